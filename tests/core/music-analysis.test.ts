import { describe, expect, it } from 'vitest';
import { analyse } from '../../server/music/analysis/analyse.ts';
import { buildsOf } from '../../server/music/analysis/builds.ts';
import { fMeasure } from '../fixtures/music/score.ts';
import { SYNTH_RATE, synthesized } from '../fixtures/music/synth.ts';
import { tones } from '../fixtures/music/tones.ts';

const RATE = 44_100;

describe('the analysis', () => {
  it('says the same of the same sound, and of one channel what it says of two like it', () => {
    const { pcm } = synthesized('rock-128');
    const part = pcm.subarray(0, 20 * SYNTH_RATE);
    const once = analyse([part], SYNTH_RATE);
    expect(analyse([part], SYNTH_RATE)).toEqual(once);
    const two = analyse([part, part], SYNTH_RATE);
    expect({ ...two, loudness: null, builds: null }).toEqual({ ...once, loudness: null, builds: null });
    // Two channels of the same carry twice the power.
    expect(two.loudness.integratedLufs! - once.loudness.integratedLufs!).toBeCloseTo(3.01, 1);
  });

  it('says the same of a quiet master as of a loud one', () => {
    const part = synthesized('rock-128').pcm.subarray(0, 20 * SYNTH_RATE);
    const [loud, quiet] = [analyse([part], SYNTH_RATE), analyse([part.map((value) => value / 30)], SYNTH_RATE)];
    expect(quiet.beats.map(({ atMs }) => atMs)).toEqual(loud.beats.map(({ atMs }) => atMs));
    expect(quiet.beats.length).toBeGreaterThan(35);
  });

  it.each([
    ['nothing at all', 0],
    ['one sample', 1],
    ['ten milliseconds', 441],
    ['half a second', 22_050],
    ['three seconds', 3 * RATE],
    ['ten seconds', 10 * RATE],
  ])('claims nothing of silence: %s', (_, length) => {
    expect(analyse([new Float32Array(length), new Float32Array(length)], RATE)).toMatchObject({ beats: [], hits: [], builds: [], turns: [], tempo: [], pulse: 0, loudness: { integratedLufs: null, truePeakDbtp: null } });
  });

  it('takes short music as it is', () => {
    const { pcm } = synthesized('rock-128');
    for (const seconds of [0.2, 0.6, 1.5, 4]) {
      const found = analyse([pcm.subarray(0, seconds * SYNTH_RATE)], SYNTH_RATE);
      expect(found.lengthMs).toBe(seconds * 1000);
      for (const { atMs } of [...found.beats, ...found.hits]) expect(atMs).toBeLessThanOrEqual(found.lengthMs + 20);
    }
  });

  it.each([8000, 22_050, 48_000, 96_000])('works at %i samples a second', (rate) => {
    expect(analyse([tones([[-20, 3]], { hz: 440, rate })], rate).lengthMs).toBe(3000);
  });

  it('takes broken samples as silence', () => {
    const pcm = tones([[-20, 3]], { rate: RATE });
    pcm[1000] = Number.NaN;
    pcm[2000] = Infinity;
    const { loudness } = analyse([pcm], RATE);
    expect(loudness.integratedLufs).toBeGreaterThan(-30);
    expect(loudness.truePeakDbtp).toBeLessThan(0);
  });

  it('refuses what is no sound', () => {
    expect(() => analyse([], RATE)).toThrow(RangeError);
    expect(() => analyse([new Float32Array(5), new Float32Array(6)], RATE)).toThrow(RangeError);
    expect(() => analyse([new Float32Array(5)], 0)).toThrow(RangeError);
  });

  it('reports how far it is, never backwards, and stops when told', () => {
    const part = synthesized('rock-128').pcm.subarray(0, 10 * SYNTH_RATE);
    const told: number[] = [];
    analyse([part], SYNTH_RATE, { report: (fraction) => told.push(fraction) });
    expect(told).toEqual(told.toSorted((a, b) => a - b));
    expect(told.at(-1)).toBe(1);
    const stop = new AbortController();
    expect(() => analyse([part], SYNTH_RATE, { signal: stop.signal, report: (fraction) => fraction > 0.3 && stop.abort(new Error('enough')) })).toThrow('enough');
  });
});

describe('hits', () => {
  it('are where strokes were put, within 50 ms, the strong ones stronger', () => {
    const { pcm, truth } = synthesized('click-90');
    const { hits } = analyse([pcm], SYNTH_RATE);
    expect(fMeasure(truth.beats, hits.map(({ atMs }) => atMs / 1000), 0.05)).toBeGreaterThanOrEqual(0.98);
    const near = (beat: number) => hits.find(({ atMs }) => Math.abs(atMs / 1000 - beat) < 0.05)!.strength;
    // Every fourth click is 3 dB louder than the others.
    expect(near(truth.beats[8]!)).toBeGreaterThan(near(truth.beats[9]!));
  });
});

describe('builds', () => {
  const powers = (levels: readonly number[]): Float64Array => Float64Array.from(levels, (level) => 10 ** (level / 10));
  const ramp = (from: number, to: number, steps: number): number[] => Array.from({ length: steps }, (_, i) => from + ((to - from) * i) / steps);

  it('are where the energy rises over seconds, with how much', () => {
    const [build, ...more] = buildsOf(powers([...ramp(-30, -30, 100), ...ramp(-30, -18, 80), ...ramp(-18, -18, 100)]));
    expect(more).toEqual([]);
    expect(Math.abs(build!.fromMs - 10_000)).toBeLessThan(1500);
    expect(Math.abs(build!.toMs - 18_000)).toBeLessThan(1500);
    expect(Math.abs(build!.riseDb - 12)).toBeLessThan(1);
    expect(build!.confidence).toBeGreaterThan(0.8);
  });

  it('are neither a sudden step, nor a fall, nor a waver', () => {
    expect(buildsOf(powers([...ramp(-30, -30, 100), ...ramp(-15, -15, 100)]))).toEqual([]);
    expect(buildsOf(powers(ramp(-15, -30, 100)))).toEqual([]);
    expect(buildsOf(powers(Array.from({ length: 300 }, (_, i) => -20 + Math.sin(i / 3))))).toEqual([]);
    expect(buildsOf(new Float64Array(0))).toEqual([]);
  });
});
