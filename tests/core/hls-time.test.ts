import { describe, expect, it } from 'vitest';
import { groupStart, segmentCount, segmentOfFrame, segmentRange, segmentSeconds } from '#core/hls-time.ts';
import { RATES, nominal, rate } from '#core/rate.ts';

// That ffmpeg really cuts so is shown by tests/server/hls-time.test.ts; here is the arithmetic.
describe('segments of a proxy', () => {
  it('hold two groups of a second', () => {
    expect([0, 47, 48, 95, 96].map((n) => segmentOfFrame(n, rate(24000, 1001)))).toEqual([0, 0, 1, 1, 2]);
    expect([0, 23, 24, 47, 48].map((n) => groupStart(n, rate(24000, 1001)))).toEqual([0, 0, 24, 24, 48]);
    expect(segmentRange(1, rate(25), 1000)).toEqual({ in: 50, outExclusive: 100 });
  });

  it('are as long as their frames, not two seconds', () => {
    expect(RATES.map(segmentSeconds)).toEqual([2.002, 2, 2, 2.002, 2, 2.002, 2, 2, 2.002, 2]);
  });

  it('cover a picture without gap or overlap, the last one perhaps short', () => {
    for (const r of [...RATES, rate(25, 2)]) {
      for (const total of [1, nominal(r), 2 * nominal(r), 2 * nominal(r) + 1, 777]) {
        let next = 0;
        for (let k = 0; k < segmentCount(total, r); k++) {
          const range = segmentRange(k, r, total);
          expect(range.in).toBe(next);
          expect(segmentOfFrame(range.in, r)).toBe(k);
          expect(segmentOfFrame(range.outExclusive - 1, r)).toBe(k);
          expect(groupStart(range.in, r)).toBe(range.in);
          next = range.outExclusive;
        }
        expect(next).toBe(total);
      }
    }
    expect(segmentCount(0, rate(25))).toBe(0);
  });

  it('are refused where there are none', () => {
    for (const k of [-1, 2, 0.5]) expect(() => segmentRange(k, rate(25), 100)).toThrow(RangeError);
    expect(() => segmentRange(0, rate(25), 0)).toThrow(RangeError);
    for (const n of [-1, 0.5, NaN]) {
      expect(() => segmentOfFrame(n, rate(25))).toThrow(RangeError);
      expect(() => segmentCount(n, rate(25))).toThrow(RangeError);
      expect(() => groupStart(n, rate(25))).toThrow(RangeError);
    }
  });
});
