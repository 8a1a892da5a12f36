// Each measurement on signals whose answer is known on paper.
import { describe, expect, it } from 'vitest';
import { differenceOf, isRepeated } from '../../server/proxies/analysis/change.ts';
import { Cuts } from '../../server/proxies/analysis/cuts.ts';
import { exposureOf } from '../../server/proxies/analysis/exposure.ts';
import { Flashes } from '../../server/proxies/analysis/flash.ts';
import { Focus } from '../../server/proxies/analysis/focus.ts';
import { Motion } from '../../server/proxies/analysis/motion.ts';
import { PictureReader } from '../../server/proxies/analysis/picture-reader.ts';
import { unsteadiness } from '../../server/proxies/analysis/shake.ts';
import { SOUND_RATE, SoundTracer } from '../../server/proxies/analysis/sound-tracer.ts';
import { randomFrom } from '../fixtures/random.ts';

const WIDTH = 160;
const HEIGHT = 90;
const drawn = (level: (x: number, y: number) => number, width = WIDTH, height = HEIGHT) => Uint8Array.from({ length: width * height }, (_, at) => level(at % width, Math.floor(at / width)));
const flat = (level: number) => drawn(() => level);
/** A cloudy picture without end, looked at from a place: random levels on a lattice, smooth between. */
const LATTICE = Array.from({ length: 4 }, (_, seed) => Array.from({ length: 64 * 64 }, randomFrom(seed)));
const scene = (dx: number, dy: number, seed = 0) => {
  const level = (column: number, row: number) => LATTICE[seed]![((row + 640) % 64) * 64 + ((column + 640) % 64)]!;
  const smooth = (share: number) => share * share * (3 - 2 * share);
  return drawn((x, y) => {
    const [u, v] = [(x + dx) / 6, (y + dy) / 6];
    const [column, row] = [Math.floor(u), Math.floor(v)];
    const [right, down] = [smooth(u - column), smooth(v - row)];
    const above = level(column, row) * (1 - right) + level(column + 1, row) * right;
    return 230 * (above * (1 - down) + (level(column, row + 1) * (1 - right) + level(column + 1, row + 1) * right) * down);
  });
};

describe('the width of edges', () => {
  // The steepest slope of a step blurred by a Gaussian is 1 / (sigma sqrt(2 pi)) of its height, so it is 2.507 sigma wide.
  it.each([2, 4, 8])('is 2.5 times the sigma of a step blurred by %i', (sigma) => {
    const sum = (x: number) => Array.from({ length: 161 }, (_, n) => (n - 80) / 16).reduce((total, z) => total + (x + z * sigma >= 0 ? Math.exp((-z * z) / 2) : 0), 0);
    const row = Array.from({ length: 200 }, (_, x) => Math.round(40 + (160 * sum(x - 100)) / sum(1000)));
    const width = new Focus(200, 100).edgeOf(drawn((x) => row[x]!, 200, 100))!;
    expect(width / 10 / sigma).toBeGreaterThan(2.2);
    expect(width / 10 / sigma).toBeLessThan(2.8);
  });
  it('is the same along rows and columns, rising and falling', () => {
    const ramp = (at: number) => Math.max(40, Math.min(200, 40 + 16 * (at - 30)));
    for (const level of [ramp, (at: number) => 240 - ramp(at)]) {
      expect(new Focus(100, 100).edgeOf(drawn((x) => level(x), 100, 100))).toBe(100);
      expect(new Focus(100, 100).edgeOf(drawn((_, y) => level(y), 100, 100))).toBe(100);
    }
  });
  it('is not told from noise or an empty sky', () => {
    const random = randomFrom(1);
    expect(new Focus(200, 100).edgeOf(drawn(() => 100 + 8 * random(), 200, 100))).toBeNull();
  });
});

describe('movement', () => {
  it.each([[0, 0], [3, -2], [-6.5, 1.25]])('of the camera by %d, %d is found to a third of a pixel', (x, y) => {
    const motion = new Motion(WIDTH, HEIGHT);
    expect(motion.take(scene(0, 0))).toBeNull();
    const move = motion.take(scene(-x, -y))!;
    expect(Math.abs(move.x - x)).toBeLessThan(0.33);
    expect(Math.abs(move.y - y)).toBeLessThan(0.33);
  });
  it('is not told of a wall, and is unmoved by what crosses a third of the picture', () => {
    const motion = new Motion(WIDTH, HEIGHT);
    motion.take(flat(90));
    expect(motion.take(flat(90))).toBeNull();
    const still = scene(0, 0);
    const passing = (dx: number) => drawn((x, y) => (y < 28 ? 128 + 100 * Math.sin((x - dx) / 4) : still[y * WIDTH + x]!));
    motion.take(passing(0));
    expect(Math.abs(motion.take(passing(5))!.x)).toBeLessThan(0.25);
  });
  it('is unsteady when it goes to and fro, not when it pans', () => {
    const fps = 25;
    const rms = (path: (seconds: number) => number) => {
      const moves = Float32Array.from({ length: 100 }, (_, n) => (n === 0 ? Number.NaN : path(n / fps) - path((n - 1) / fps)));
      return Math.sqrt(unsteadiness(moves, fps)[50]!);
    };
    expect(rms((t) => 30 * t)).toBeCloseTo(0);
    // The root mean square of a sine is its height by the square root of 2.
    expect(rms((t) => 2 * Math.sin(2 * Math.PI * 5 * t))).toBeCloseTo(Math.SQRT2, 0);
    expect(rms((t) => 2 * Math.sin(2 * Math.PI * 0.3 * t))).toBeLessThan(0.1);
  });
});

describe('light', () => {
  it('is counted as black within a tenth, as blown at white', () => {
    expect(exposureOf(drawn((x) => (x < 40 ? 25 : 26)))).toEqual({ mean: 25.75, black: 0.25, blown: 0, brightest: 26 });
    expect(exposureOf(drawn((x) => (x < 80 ? 255 : 0)))).toEqual({ mean: 127.5, black: 0.5, blown: 0.5, brightest: 255 });
  });
});

describe('change', () => {
  it('of nothing is a repeat; of a bird in a locked shot is not', () => {
    const before = scene(0, 0);
    expect(isRepeated(differenceOf(before, before))).toBe(true);
    expect(isRepeated(differenceOf(drawn((x, y) => (x < 4 && y < 4 ? 0 : before[y * WIDTH + x]!)), before))).toBe(false);
  });
  const cutsIn = (pictures: Uint8Array[]) => {
    const cuts = new Cuts();
    pictures.forEach((picture, n) => cuts.take(picture, differenceOf(picture, pictures[n - 1] ?? picture).mean, pictures[n - 1] ?? picture));
    return cuts.found;
  };
  const pan = (seed: number, count: number) => Array.from({ length: count }, (_, n) => scene(n, 0, seed));
  it('to another picture is a cut, at its first frame', () => expect(cutsIn([...pan(0, 20), ...pan(2, 20)])).toEqual([20]));
  it('by a photographer’s flash is none', () => expect(cutsIn([...pan(0, 20), flat(250), ...pan(0, 20)])).toEqual([]));
});

describe('flashes (WCAG 2.2, general flash threshold)', () => {
  const FPS = 30;
  /** The most changes within a second of a picture whose left part is lit by a square wave for two seconds. */
  const most = ({ hertz, dark = 0, light = 255, part = 1 }: { hertz: number; dark?: number; light?: number; part?: number }) => {
    const flashes = new Flashes(WIDTH, HEIGHT, FPS);
    for (let n = 0; n < 2 * FPS; n++) flashes.take(drawn((x) => (x < part * WIDTH && (n * hertz) % FPS < FPS / 2 ? light : dark)), false);
    return Math.max(...flashes.result());
  };
  it('three in a second are within it, four are not: six and eight changes', () => expect([most({ hertz: 3 }), most({ hertz: 4 })]).toEqual([6, 8]));
  // Relative luminance of grey 231 is 0.80, of 89 is 0.10, of 75 is 0.07 (sRGB, IEC 61966-2-1).
  it('count only where the darker is below 0.80', () => expect([most({ hertz: 5, dark: 232 }), most({ hertz: 5, dark: 200 })]).toEqual([0, 10]));
  it('count from a tenth of the luminance on', () => expect([most({ hertz: 5, light: 85 }), most({ hertz: 5, light: 95 })]).toEqual([0, 10]));
  it('count where they fill a quarter of a third of the picture', () => expect([most({ hertz: 5, part: 0.06 }), most({ hertz: 5, part: 0.2 })]).toEqual([0, 10]));
  it('are not seen in a picture that is shaken', () => {
    const flashes = new Flashes(WIDTH, HEIGHT, FPS);
    for (let n = 0; n < 2 * FPS; n++) flashes.take(scene(3 * Math.sin(n), 3 * Math.cos(n)), true);
    expect(Math.max(...flashes.result())).toBeLessThan(3);
  });
});

describe('sound', () => {
  /** What is measured of a wave from -1 to 1 in both channels, over the four steps of a second. */
  const heard = (wave: (seconds: number) => number, chunk = 999) => {
    const tracer = new SoundTracer(2, 0.25);
    const bytes = Buffer.alloc(SOUND_RATE * 4);
    for (let n = 0; n < SOUND_RATE * 2; n++) bytes.writeInt16LE(Math.max(-32_768, Math.min(32_767, Math.round(32_767 * wave((n >> 1) / SOUND_RATE)))), 2 * n);
    for (let at = 0; at < bytes.length; at += chunk) tracer.take(bytes.subarray(at, at + chunk));
    return tracer.result(4);
  };
  const tone = (hertz: number, height: number) => (t: number) => height * Math.sin(2 * Math.PI * hertz * t);
  // ITU-R BS.1770-4: 997 Hz at full scale in one front channel reads -3.01, so in both at -20 dB it reads -20.
  it('of 997 Hz at -20 dB in both channels is -20 LUFS', () => expect(heard(tone(997, 0.1)).loudness).toEqual([-20, -20, -20, -20]));
  it('has its peak in dB under full scale', () => expect(heard(tone(440, 0.5)).peak).toEqual([-6, -6, -6, -6]));
  it('is clipped where the wave is cut off, once each time', () => {
    expect(heard(tone(100, 1.5)).clipped).toEqual([100, 100, 100, 100]);
    expect(heard(tone(1000, 0.999)).clipped).toEqual([0, 0, 0, 0]);
  });
  it('rumbles below 150 Hz', () => {
    expect(Math.min(...heard(tone(60, 0.3)).rumble)).toBeGreaterThan(90);
    expect(Math.max(...heard(tone(600, 0.3)).rumble.slice(1))).toBeLessThan(5);
  });
  it('is silence where there is none', () => expect(heard(() => 0)).toEqual({ loudness: [-99, -99, -99, -99], peak: [-99, -99, -99, -99], clipped: [0, 0, 0, 0], rumble: [0, 0, 0, 0] }));
  it('ends before the picture in silence', () => expect(new SoundTracer(1, 0.5).result(2).peak).toEqual([-99, -99]));
});

describe('pictures from a stream', () => {
  it('are whole however the bytes are cut', () => {
    const seen: number[][] = [];
    const reader = new PictureReader(3, (picture) => seen.push([...picture]));
    for (const bytes of [[1], [2, 3, 4, 5, 6, 7], [8, 9, 10]]) reader.take(Uint8Array.from(bytes));
    expect(seen).toEqual([[1, 2, 3], [4, 5, 6], [7, 8, 9]]);
  });
});
