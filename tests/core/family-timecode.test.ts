import { describe, expect, test } from 'vitest';
import { offsetByTimecode, type Timed } from '../../server/families/timecode.ts';

const HOUR = 3600;
const clip = (num: number, den: number, startFrame: number, change: Partial<Timed> = {}): Timed => ({ camera: 'A', rate: { num, den }, frames: 20 * 60 * Math.round(num / den), startFrame, dropFrame: false, capturedAt: null, ...change });
const offset = (a: Timed, b: Timed) => {
  const found = offsetByTimecode(a, b);
  return found && [found.num, found.den];
};

// Frame counts are those of SMPTE ST 12-1:2014: 108000 a labelled hour at 30, 107892 with dropping.
describe('clips of different cameras by their timecodes', () => {
  test('one rate: the difference of the frames', () => expect(offset(clip(25, 1, 36_000), clip(25, 1, 36_017))).toEqual([17n, 25n]));
  test('25 and 50: to the frame of the faster', () => expect(offset(clip(25, 1, 10 * HOUR * 25), clip(50, 1, 10 * HOUR * 50 + 3))).toEqual([3n, 50n]));
  test('23.976 and 29.97 counted without dropping fall behind alike', () => expect(offset(clip(24_000, 1001, 24 * HOUR), clip(30_000, 1001, 30 * HOUR))).toEqual([0n, 1n]));
  test('29.97 and 59.94 with dropping', () => expect(offset(clip(30_000, 1001, 107_892, { dropFrame: true }), clip(60_000, 1001, 215_784 + 1, { dropFrame: true }))).toEqual([1001n, 60_000n]));
  test('25 beside drop-frame 29.97: both keep the time of day, and an hour parts them by 3.6 ms', () => {
    expect(offsetByTimecode(clip(25, 1, HOUR * 25), clip(30_000, 1001, 107_892, { dropFrame: true }))?.seconds).toBeCloseTo(-0.0036, 4);
  });
  test('a labelled hour beside drop-frame says nothing, because the other falls behind', () => expect(offset(clip(24_000, 1001, 24 * HOUR), clip(30_000, 1001, 107_892, { dropFrame: true }))).toBeNull());
  test('a day ends between them', () => expect(offset(clip(25, 1, 24 * HOUR * 25 - 50), clip(25, 1, 25))).toEqual([3n, 1n]));
  test('no shared moment', () => expect(offset(clip(25, 1, HOUR * 25), clip(25, 1, 2 * HOUR * 25))).toBeNull());
  test('one ends where the other begins: nothing shared', () => expect(offset(clip(25, 1, 25, { frames: 50 }), clip(25, 1, 75))).toBeNull());
  test('no timecode', () => expect(offset(clip(25, 1, 0), clip(25, 1, 5))).toBeNull());
});
