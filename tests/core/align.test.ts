import { describe, expect, test } from 'vitest';
import { align } from '../../server/families/align.ts';
import { soundOf } from '../../server/families/sound.ts';
import { findTools } from '../../server/platform/ffmpeg.ts';
import { heard, moment, SCENES, type Microphone, type Scene } from '../fixtures/sound-pairs.ts';
import { randomFrom } from '../fixtures/random.ts';

const { ffmpeg } = await findTools(null);
/** A frame of the film at the fastest rate films are delivered in, 60 a second: the narrowest that "to the frame" can mean. */
const FRAME = 1 / 60;
const RATES = [48_000, 44_100, 32_000, 16_000, 96_000];
const SECONDS = 24;

const moments = new Map<string, Float32Array>();
function momentOf(scene: Scene, seed: number): Float32Array {
  const key = `${scene}${seed}`;
  const known = moments.get(key) ?? moment(scene, SECONDS, seed);
  moments.set(key, known);
  return known;
}

const plain = (change: Partial<Microphone>): Microphone => ({ from: 0, seconds: 12, rate: 48_000, gainDb: 0, noise: 0.004, seed: 1, ...change });

/** Both as heard, at once. */
async function pair(a: Float32Array, ofA: Microphone, b: Float32Array, ofB: Microphone) {
  const [one, other] = await Promise.all([heard(ffmpeg, a, ofA), heard(ffmpeg, b, ofB)]);
  return align(soundOf(one), soundOf(other));
}

describe('sound of one moment', () => {
  test('fifty pairs, shifted, noisy, resampled, some by telephone or in a hall, lie on one another to the frame', { timeout: 60_000 }, async () => {
    const off: string[] = [];
    let told = 0;
    for (let n = 0; n < 50; n++) {
      const random = randomFrom(100 + n);
      const scene = SCENES[n % SCENES.length]!;
      const sound = momentOf(scene, n % 8);
      const a = plain({ from: random() * 8, seconds: 9 + random() * 6, rate: RATES[n % 5]!, seed: 2 * n + 1 });
      const b = plain({ from: random() * 8, seconds: 9 + random() * 6, rate: RATES[(3 * n + 1) % 5]!, gainDb: -12 * random(), noise: 0.008 * random(), phone: n % 3 === 0, hall: n % 5 === 1, seed: 2 * n + 2 });
      const found = await pair(sound, a, sound, b);
      if (!found.told) continue;
      told++;
      const error = found.seconds - (b.from - a.from);
      if (Math.abs(error) >= FRAME) off.push(`${n}, ${scene}: ${(error * 1000).toFixed(1)} ms`);
    }
    expect(off).toEqual([]);
    // What is not told costs a look; a way that tells nothing would have no error either.
    expect(told).toBeGreaterThanOrEqual(42);
  });

  test('a shared stretch of three seconds at either end is enough', async () => {
    const sound = momentOf('work', 2);
    for (const [fromA, fromB] of [[0, 9], [9, 0]] as const) {
      const found = await pair(sound, plain({ from: fromA, seed: 1 }), sound, plain({ from: fromB, rate: 44_100, seed: 2 }));
      expect(found).toMatchObject({ told: true, seconds: expect.closeTo(fromB - fromA, 2) });
    }
  });

  test('clocks that part by 19 ms over what is shared are met in its middle, and said', { timeout: 30_000 }, async () => {
    const sound = moment('work', 240, 77);
    const [from, ppm] = [3, 80];
    const [a, b] = await Promise.all([
      heard(ffmpeg, sound, plain({ seconds: 240, seed: 1 })),
      heard(ffmpeg, sound, plain({ from: from * (1 + ppm * 1e-6), seconds: 230, driftPpm: ppm, rate: 44_100, seed: 2 })),
    ]);
    const found = align(soundOf(a), soundOf(b));
    // b begins at 3 s of a; its clock runs fast, so a moment comes later in it the longer it runs.
    expect(found).toMatchObject({ told: true, driftPpm: expect.closeTo(-ppm, -1) });
    const middle = 115;
    expect(found.told && found.seconds).toBeCloseTo(from - middle * ppm * 1e-6, 3);
  });
});

describe('what cannot be told', () => {
  test('twenty pairs of unrelated sound: none is aligned', { timeout: 60_000 }, async () => {
    const told: string[] = [];
    for (let n = 0; n < 20; n++) {
      const [one, other] = [SCENES[n % 4]!, SCENES[(n >> 2) % 4]!];
      const found = await pair(momentOf(one, 10 + (n % 4)), plain({ seed: 3 * n + 1 }), momentOf(other, 20 + (n % 3)), plain({ rate: 44_100, seed: 3 * n + 2 }));
      if (found.told) told.push(`${n}: ${one} and ${other} at ${found.seconds}`);
    }
    expect(told).toEqual([]);
  });

  test('silence', () => {
    expect(align(soundOf(new Int16Array(80_000)), soundOf(new Int16Array(80_000)))).toEqual({ told: false, why: 'silent' });
  });

  test('no sound at all', () => {
    expect(align(soundOf(new Int16Array(0)), soundOf(new Int16Array(80_000)))).toEqual({ told: false, why: 'silent' });
  });

  test('a tone that both hold, each with noise of its own', async () => {
    const tone = Float32Array.from({ length: SECONDS * 48_000 }, (_, n) => 0.3 * Math.sin((2 * Math.PI * 440 * n) / 48_000));
    expect((await pair(tone, plain({ from: 1, seed: 1 }), tone, plain({ from: 4, seed: 2 }))).told).toBe(false);
  });

  test('clicks of a metronome, the same every half second', async () => {
    const clicks = new Float32Array(SECONDS * 48_000);
    for (let n = 0; n < clicks.length; n++) clicks[n] = 0.5 * Math.sin(n / 5) * Math.exp(-(n % 24_000) / 400);
    expect(await pair(clicks, plain({ from: 1.2, seed: 1 }), clicks, plain({ from: 4.3, seed: 2 }))).toMatchObject({ told: false });
  });
});
