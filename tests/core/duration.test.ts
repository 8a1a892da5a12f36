import { describe, expect, it } from 'vitest';
import { RATES, rate } from '#core/rate.ts';
import { TimecodeError, formatDuration, parseDuration } from '#core/timecode.ts';

// The way of writing lengths is ours; expected values are by hand from seconds × rate.
describe('lengths for people', () => {
  it.each([
    [0, rate(25), '0:00', '0:00.00'],
    [112, rate(25), '0:04', '0:04.12'],
    [1025, rate(25), '0:41', '0:41.00'],
    [1037, rate(25), '0:41', '0:41.12'],
    [1038, rate(25), '0:42', '0:41.13'], // 41.52 s
    [93_075, rate(25), '1:02:03', '1:02:03.00'],
    [-150, rate(25), '-0:06', '-0:06.00'],
    [-2, rate(25), '0:00', '-0:00.02'],
    // 86400 frames at 23.976 last 3603.6 s (S1, S4 in timecode-vectors.ts): real time, not the hour its labels say.
    // The second 3603 begins nearest to frame 86386 (3603 × 24000 / 1001 = 86385.6).
    [86_400, rate(24000, 1001), '1:00:04', '1:00:03.14'],
    // 1798 frames at 29.97 are 59.993 s.
    [1798, rate(30000, 1001), '1:00', '1:00.00'],
    [1797, rate(30000, 1001), '1:00', '0:59.29'],
  ])('%d frames at %o are %s, to the frame %s', (n, r, text, toFrame) => {
    expect(formatDuration(n, r)).toBe(text);
    expect(formatDuration(n, r, { toFrame: true })).toBe(toFrame);
  });

  it.each([
    ['41', 1025],
    ['0:41', 1025],
    [' 0:04.12 ', 112],
    ['1:02:03', 93_075],
    ['90:00', 135_000],
    ['90', 2250],
  ])('"%s" is %d frames at 25', (text, n) => {
    expect(parseDuration(text, rate(25))).toBe(n);
  });

  it('lead back to the same count of frames, at odd rates too', () => {
    for (const r of [...RATES, rate(15), rate(25, 2), rate(77, 5), rate(120), rate(502, 5)]) {
      for (let n = 0; n < 4000; n++) expect(parseDuration(formatDuration(n, r, { toFrame: true }), r)).toBe(n);
      for (let n = 1; n < 500_000; n *= 3) expect(parseDuration(formatDuration(n, r, { toFrame: true }), r)).toBe(n);
    }
  });

  it('lead back to the same whole second', () => {
    for (const r of RATES) {
      for (let s = 0; s < 4000; s++) {
        const n = parseDuration(String(s), r);
        expect(parseDuration(formatDuration(n, r), r)).toBe(n);
      }
    }
  });

  it.each([
    ['', 'shape', 'label'],
    ['a while', 'shape', 'label'],
    ['4.5', 'shape', 'label'],
    ['0:4', 'shape', 'label'],
    ['0:04.5', 'shape', 'label'],
    ['1:2:3:4', 'shape', 'label'],
    ['-0:06', 'negative', 'label'],
    ['0:60', 'range', 'seconds'],
    ['1:60:00', 'range', 'minutes'],
    ['0:04.25', 'range', 'frames'],
  ])('"%s" is refused: %s in %s', (text, code, field) => {
    expect(() => parseDuration(text, rate(25))).toThrow(expect.objectContaining({ code, field }) as Error);
    expect(() => parseDuration(text, rate(25))).toThrow(TimecodeError);
  });
});
