import { describe, expect, it } from 'vitest';
import { APART_MS, corrected, correctionOf, dayAt, type Correction } from '../../server/core/clock.ts';

const at = (text: string): number => Date.parse(text);

describe('a clock set right', () => {
  it('by one moment: everything moves by the same', () => {
    const correction = correctionOf([{ notedMs: at('2025-05-30T17:20:00Z'), trueMs: at('2026-05-30T16:21:30Z') }]) as Correction;
    expect(correction.drift).toBe(0);
    expect(corrected(at('2025-05-30T17:20:00Z'), correction)).toBe(at('2026-05-30T16:21:30Z'));
    expect(corrected(at('2025-05-31T00:00:00Z'), correction)).toBe(at('2026-05-30T23:01:30Z'));
  });

  it('by two: both are right, and what lies between and beyond is in proportion', () => {
    // A clock that loses two seconds in ten hours, worked out by hand: 5 s behind at first, 6 s after five hours.
    const known = [{ notedMs: at('2026-05-30T08:00:00Z'), trueMs: at('2026-05-30T08:00:05Z') }, { notedMs: at('2026-05-30T18:00:00Z'), trueMs: at('2026-05-30T18:00:07Z') }];
    for (const order of [known, [...known].reverse()]) {
      const correction = correctionOf(order) as Correction;
      expect(order.map(({ notedMs }) => corrected(notedMs, correction))).toEqual(order.map(({ trueMs }) => trueMs));
      expect(corrected(at('2026-05-30T13:00:00Z'), correction)).toBe(at('2026-05-30T13:00:06Z'));
      expect(corrected(at('2026-05-31T04:00:00Z'), correction)).toBe(at('2026-05-31T04:00:09Z'));
      expect(corrected(at('2026-05-30T03:00:00Z'), correction)).toBe(at('2026-05-30T03:00:04Z'));
    }
  });

  it('not by moments that cannot be of one clock', () => {
    const first = { notedMs: 0, trueMs: 0 };
    expect(correctionOf([])).toBe('none');
    expect(correctionOf([first, { notedMs: APART_MS - 1, trueMs: APART_MS }])).toBe('too-close');
    expect(correctionOf([first, { notedMs: 0, trueMs: 1000 }])).toBe('too-close');
    expect(correctionOf([first, { notedMs: 10 * 3_600_000, trueMs: 10 * 3_600_000 + 60_000 }])).toBe('drifts-too-much');
  });

  it('the day is that of the place', () => {
    expect(dayAt(at('2026-05-30T23:30:00Z'), 120)).toBe('2026-05-31');
    expect(dayAt(at('2026-05-30T00:30:00Z'), -60)).toBe('2026-05-29');
    expect(dayAt(at('2026-05-30T00:30:00Z'), null)).toBe('2026-05-30');
  });
});
