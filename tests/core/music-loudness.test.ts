// Signals, readings and tolerances: EBU Tech 3341 (cases 1 to 5, 9 is short-term only and not read here; true peak 15 to 19)
// and EBU Tech 3342 (1 to 4). Case 6 is surround, which is mixed down before the analysis. Cases 7 and 8 need EBU's own files.
import { describe, expect, it } from 'vitest';
import { kWeighting } from '#core/k-weighting.ts';
import { loudnessOf } from '../../server/music/analysis/loudness.ts';
import { silencesOf } from '../../server/music/analysis/silences.ts';
import { soundOf } from '../../server/music/analysis/sound.ts';
import { faded, tones } from '../fixtures/music/tones.ts';

const RATE = 48_000;
const stereo = (samples: Float32Array, rate = RATE) => soundOf([samples, samples], rate);

describe('K-weighting', () => {
  // ITU-R BS.1770-4, Annex 1, tables 1 and 2: coefficients at 48 kHz.
  it('gives the coefficients of BS.1770 at 48 kHz', () => {
    const [shelf, high] = kWeighting(48_000);
    const table = [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585];
    shelf.forEach((value, i) => expect(value).toBeCloseTo(table[i]!, 7));
    [1, -2, 1, -1.99004745483398, 0.99007225036621].forEach((value, i) => expect(high[i]).toBeCloseTo(value, 7));
  });
});

describe('integrated loudness', () => {
  it.each([
    ['1', 48_000, [[-23, 20]], -23],
    ['1', 44_100, [[-23, 20]], -23],
    ['1', 96_000, [[-23, 20]], -23],
    ['2', 48_000, [[-33, 20]], -33],
    ['3', 48_000, [[-36, 10], [-23, 60], [-36, 10]], -23],
    ['4', 48_000, [[-72, 10], [-36, 10], [-23, 60], [-36, 10], [-72, 10]], -23],
    ['5', 44_100, [[-26, 20], [-20, 20.1], [-26, 20]], -23],
  ] as const)('reads Tech 3341 case %s at %i Hz within 0.1 LU', (_, rate, segments, expected) => {
    const { integratedLufs } = loudnessOf(stereo(tones(segments, { rate }), rate)).loudness;
    expect(Math.abs(integratedLufs! - expected)).toBeLessThanOrEqual(0.1);
  });

  it('reads -3.01 for a full-scale sine of 997 Hz in one channel (BS.1770-4)', () => {
    expect(loudnessOf(soundOf([tones([[0, 5]], { hz: 997 })], RATE)).loudness.integratedLufs).toBeCloseTo(-3.01, 2);
  });

  it('says nothing for silence, for what is below the gate, and for less than a block', () => {
    expect(loudnessOf(stereo(new Float32Array(RATE))).loudness).toMatchObject({ integratedLufs: null, truePeakDbtp: null, rangeLu: null });
    expect(loudnessOf(stereo(tones([[-75, 5]]))).loudness.integratedLufs).toBeNull();
    expect(loudnessOf(stereo(tones([[-20, 0.3]]))).loudness.integratedLufs).toBeNull();
    expect(loudnessOf(stereo(new Float32Array(0))).loudness.truePeakDbtp).toBeNull();
  });
});

describe('true peak', () => {
  const degrees = (value: number) => (value * Math.PI) / 180;
  it.each([
    ['15', -6.0206, 4, 0, -6],
    ['16', -6.0206, 4, 45, -6],
    ['17', -6.0206, 6, 60, -6],
    ['18', -6.0206, 8, 67.5, -6],
    ['19', 20 * Math.log10(1.41), 4, 45, 3],
  ])('reads Tech 3341 case %s within +0.2 and -0.4 dB', (_, level, share, phase, expected) => {
    const { truePeakDbtp } = loudnessOf(stereo(faded(tones([[level, 5]], { hz: RATE / share, phase: degrees(phase) }), RATE))).loudness;
    expect(truePeakDbtp! - expected).toBeLessThanOrEqual(0.2);
    expect(truePeakDbtp! - expected).toBeGreaterThanOrEqual(-0.4);
  });

  it('finds a peak across the edges of blocks, and the last one of all', () => {
    const samples = new Float32Array(70_000);
    samples[65_535] = samples[65_536] = 0.5;
    const inside = loudnessOf(soundOf([samples], RATE)).loudness.truePeakDbtp!;
    // Between two equal samples of an ideal band-limited signal the level is 4/pi times theirs.
    expect(inside).toBeCloseTo(20 * Math.log10((0.5 * 4) / Math.PI), 1);
    const last = new Float32Array(1000);
    last[999] = 0.25;
    expect(loudnessOf(soundOf([last], RATE)).loudness.truePeakDbtp).toBeGreaterThanOrEqual(20 * Math.log10(0.25));
  });
});

describe('loudness range', () => {
  it.each([
    ['1', [[-20, 20], [-30, 20]], 10],
    ['2', [[-20, 20], [-15, 20]], 5],
    ['3', [[-40, 20], [-20, 20]], 20],
    ['4', [[-50, 20], [-35, 20], [-20, 20], [-35, 20], [-50, 20]], 15],
  ] as const)('reads Tech 3342 case %s within 1 LU', (_, segments, expected) => {
    expect(Math.abs(loudnessOf(stereo(tones(segments))).loudness.rangeLu! - expected)).toBeLessThanOrEqual(1);
  });
});

describe('silences', () => {
  it('are half a second or more without a sample at -60 dBFS, in milliseconds, half-open', () => {
    const sound = soundOf([tones([[-90, 1], [-20, 2], [-70, 0.75], [-20, 1], [-90, 0.25], [-20, 1], [-90, 0.5]])], RATE);
    const found = silencesOf(sound);
    expect(found).toHaveLength(3);
    [[0, 1000], [3000, 3750], [6000, 6500]].forEach(([from, to], i) => {
      expect(Math.abs(found[i]!.fromMs - from!)).toBeLessThanOrEqual(1);
      expect(Math.abs(found[i]!.toMs - to!)).toBeLessThanOrEqual(1);
    });
  });
});
