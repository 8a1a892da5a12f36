import { describe, expect, it } from 'vitest';
import {
  RATES,
  convertFrames,
  frameAt,
  frameFromMediaTime,
  frameStartSeconds,
  framesToMillis,
  middleOfFrameSeconds,
  millisToFrames,
  nearestRate,
  nominal,
  rate,
  rateText,
  sameRate,
  type Rate,
} from '#core/rate.ts';
import { clockNamed } from './timecode-vectors.ts';

// SMPTE ST 12-1:2014 (text not at hand) by way of S1's list of rates and S5's fractions (keys in timecode-vectors.ts).
const STANDARD: [text: string, num: number, den: number, labels: number][] = [
  ['23.976', 24000, 1001, 24],
  ['24', 24, 1, 24],
  ['25', 25, 1, 25],
  ['29.97', 30000, 1001, 30],
  ['30', 30, 1, 30],
  ['47.952', 48000, 1001, 48],
  ['48', 48, 1, 48],
  ['50', 50, 1, 50],
  ['59.94', 60000, 1001, 60],
  ['60', 60, 1, 60],
];

describe('standard rates', () => {
  it('are these, exactly', () => {
    expect(RATES.map((r) => [rateText(r), r.num, r.den, nominal(r)])).toEqual(STANDARD);
  });

  it('are reduced, and compared as numbers', () => {
    expect(rate(60000, 2002)).toEqual({ num: 30000, den: 1001 });
    expect(sameRate({ num: 50, den: 2 }, rate(25))).toBe(true);
    expect(sameRate(rate(24000, 1001), rate(24))).toBe(false);
  });

  it.each([
    [0, 1],
    [25, 0],
    [-25, 1],
    [23.976, 1],
    [NaN, 1],
  ])('refuse %d/%d', (num, den) => {
    expect(() => rate(num, den)).toThrow(RangeError);
  });
});

describe('nearestRate', () => {
  // S1, test_nearest_smpte_timecode_rate.
  it.each([
    [23.97, '23.976'],
    [23.976, '23.976'],
    [23.98, '23.976'],
    [23.97602397602397, '23.976'],
    [29.97, '29.97'],
    [59.94, '59.94'],
    [23.999999, '24'],
    [29.999999, '30'],
    [30.01, '30'],
    [60.01, '60'],
  ])('%d is %s', (fps, name) => {
    expect(nearestRate(fps)).toEqual(clockNamed(name).rate);
  });

  it('keeps every standard rate, as a fraction and as the double other programs write', () => {
    for (const r of RATES) {
      expect(nearestRate(r)).toEqual(r);
      expect(nearestRate(r.num / r.den)).toEqual(r);
      expect(nearestRate({ num: r.num * 7, den: r.den * 7 })).toEqual(r);
    }
  });

  // Ours: a rate that is none of the standard ones must stay what it is.
  it.each([15, 12.5, 24.5, 29.5, 29.83, 100, 120, 0, -25, NaN, Infinity])('%d is none of them', (fps) => {
    expect(nearestRate(fps)).toBeNull();
  });
});

/** Milliseconds to three places, as the tables below write seconds. */
const asSeconds = (ms: number) => (ms / 1000).toFixed(3);

describe('milliseconds', () => {
  // Derived: frame × den / num to the nearest millisecond, by exact rational arithmetic outside this project.
  const FRAMES = [1, 2, 3, 10, 24, 100, 1000, 86400];
  it.each([
    ['23.976', '0.042 0.083 0.125 0.417 1.001 4.171 41.708 3603.600'],
    ['25', '0.040 0.080 0.120 0.400 0.960 4.000 40.000 3456.000'],
    ['29.97', '0.033 0.067 0.100 0.334 0.801 3.337 33.367 2882.880'],
    ['59.94', '0.017 0.033 0.050 0.167 0.400 1.668 16.683 1441.440'],
  ])('of frames at %s', (name, expected) => {
    const { rate: r } = clockNamed(name);
    expect(FRAMES.map((n) => asSeconds(framesToMillis(n, r))).join(' ')).toBe(expected);
  });

  it('lead back to the same frame at every standard rate', () => {
    for (const r of RATES) {
      for (let n = 0; n < 5_000_000; n = n * 2 + 1) {
        for (const near of [n, n + 1, n + 2]) expect(millisToFrames(framesToMillis(near, r), r)).toBe(near);
      }
    }
  });

  it('refuse a broken frame or millisecond', () => {
    expect(() => framesToMillis(0.5, rate(25))).toThrow(RangeError);
    expect(() => millisToFrames(0.5, rate(25))).toThrow(RangeError);
  });
});

describe('the frame at a time', () => {
  // Timescales of real files: 90000 (MPEG-TS), 1000 (Matroska), the numerator and 16 times it (fragmented MP4 as
  // ffmpeg writes it), and the microseconds in which browsers keep media time.
  const timescales = (r: Rate) => [90000, 1000, r.num, r.num * 16, 1_000_000];

  it('is read from a media timestamp however the file rounds it', () => {
    for (const r of RATES) {
      for (const scale of timescales(r)) {
        for (const round of [Math.floor, Math.round, Math.ceil]) {
          for (const n of [0, 1, 2, 3, 29, 30, 31, 59, 60, 1799, 1800, 107_891, 2_589_407]) {
            const written = round((n * r.den * scale) / r.num) / scale;
            expect(frameFromMediaTime(written, r)).toBe(n);
          }
        }
      }
    }
  });

  it('begins with its start and lasts until the next', () => {
    for (const r of RATES) {
      for (const n of [0, 1, 2, 7, 100, 1799, 215_783, 5_178_815]) {
        expect(frameAt({ seconds: frameStartSeconds(n, r) }, r)).toBe(n);
        expect(frameAt({ seconds: middleOfFrameSeconds(n, r) }, r)).toBe(n);
        expect(frameAt({ seconds: frameStartSeconds(n + 1, r) - 0.00001 }, r)).toBe(n);
      }
    }
    expect(frameAt({ millis: 39 }, rate(25))).toBe(0);
    expect(frameAt({ millis: 40 }, rate(25))).toBe(1);
    expect(frameAt({ millis: 1001 }, rate(24000, 1001))).toBe(24);
  });

  it('is not found at no time', () => {
    expect(() => frameAt({ seconds: NaN }, rate(25))).toThrow(RangeError);
    expect(() => frameFromMediaTime(Infinity, rate(25))).toThrow(RangeError);
  });
});

describe('convertFrames', () => {
  it.each([
    // One hour of real time at 24 (S1: 01:00:00:00 is frame 86400, 3600 s).
    [86400, '24', '25', 90000],
    [86400, '24', '30', 108000],
    // The same frames at 23.976 last 3603.6 s (S1, S4), which are 90090 frames at 25.
    [86400, '23.976', '25', 90090],
    [24, '23.976', '29.97', 30],
    // Halves up, by hand: 1 frame at 25 is half of a frame at 12.5; 1 at 50 is 0.5 at 25; -1 is -0.5.
    [1, '50', '25', 1],
    [-1, '50', '25', 0],
    [3, '60', '30', 2],
    [2, '60', '24', 1],
  ])('%d frames at %s are, at %s, %d', (n, from, to, expected) => {
    expect(convertFrames(n, clockNamed(from).rate, clockNamed(to).rate)).toBe(expected);
  });

  it('returns from a faster rate unchanged', () => {
    for (let n = 0; n < 3000; n++) {
      expect(convertFrames(convertFrames(n, rate(24000, 1001), rate(25)), rate(25), rate(24000, 1001))).toBe(n);
    }
  });
});
