import { describe, expect, it } from 'vitest';
import { rate, RATES } from '../../server/core/rate.ts';
import { TimecodeError } from '../../server/core/timecode.ts';
import { lengthText, parseLength, parseWish, sameWish, wishText, type Wish } from '../../server/core/wish.ts';

const pal = rate(25);

describe('lengths at the end of a line', () => {
  // 40 s at 24000/1001 are 40 × 24000 ÷ 1001 = 959.04 frames; at 25 they are 1000.
  it.each([
    ['0:40', pal, 1000],
    ['40s', pal, 1000],
    ['40 S', pal, 1000],
    ['40', pal, 1000],
    ['18f', pal, 18],
    [' 18 F ', pal, 18],
    ['0:04.12', pal, 112],
    ['1:02:03', pal, 93075],
    ['40s', rate(24000, 1001), 959],
    ['', pal, null],
    ['   ', pal, null],
  ])('%j at %j is %s frames', (text, at, expected) => {
    expect(parseLength(text, at)).toBe(expected);
    expect(parseWish(text, at)).toEqual(expected === null ? { kind: 'open' } : { kind: 'fixed', frames: expected });
  });

  it('writes what it reads, at every rate', () => {
    for (const at of RATES) for (let n = 1; n < 4000; n++) expect(parseLength(lengthText(n, at), at)).toBe(n);
    expect([18, 1000, 112, 93075].map((n) => lengthText(n, pal))).toEqual(['18f', '0:40', '0:04.12', '1:02:03']);
  });
});

describe('wishes', () => {
  // Worked by hand at 25 frames a second.
  it.each<[string, Wish, string]>([
    ['8%', { kind: 'share', share: 800 }, '8%'],
    ['12.5 %', { kind: 'share', share: 1250 }, '12.5%'],
    ['33,33%', { kind: 'share', share: 3333 }, '33.33%'],
    ['0.01%', { kind: 'share', share: 1 }, '0.01%'],
    ['100%', { kind: 'share', share: 10_000 }, '100%'],
    ['0:30-0:50', { kind: 'range', min: 750, max: 1250 }, '0:30-0:50'],
    ['0:30 – 0:50', { kind: 'range', min: 750, max: 1250 }, '0:30-0:50'],
    ['30-50s', { kind: 'range', min: 750, max: 1250 }, '0:30-0:50'],
    ['18-24f', { kind: 'range', min: 18, max: 24 }, '18f-24f'],
    ['18f—0:02', { kind: 'range', min: 18, max: 50 }, '18f-0:02'],
    ['0:30-0:30', { kind: 'fixed', frames: 750 }, '0:30'],
    ['', { kind: 'open' }, ''],
  ])('%j is %j, written %j', (text, wish, written) => {
    expect(parseWish(text, pal)).toEqual(wish);
    expect(wishText(wish, pal)).toBe(written);
    expect(parseWish(written, pal)).toEqual(wish);
  });

  it.each(['0', '0:00', '0f', '-4', 'long', '4m', '0:61', '0:04.25', 's', 'f', '%', '0%', '101%', '8.125%', '0:50-0:30', '-', '0:30-', '-0:30', '0:30-0:40-0:50', '8%-10%'])('refuses %j in words', (text) => {
    expect(() => parseWish(text, pal)).toThrow(TimecodeError);
  });

  it('writes what it reads, at every rate', () => {
    for (const at of RATES) {
      for (let n = 1; n < 1500; n += 7) {
        const wish: Wish = { kind: 'range', min: n, max: n * 2 };
        expect(parseWish(wishText(wish, at), at)).toEqual(wish);
      }
    }
    for (let share = 1; share <= 10_000; share++) expect(parseWish(wishText({ kind: 'share', share }, pal), pal)).toEqual({ kind: 'share', share });
  });

  it('are the same only when they ask for the same', () => {
    const wishes: Wish[] = [{ kind: 'open' }, { kind: 'fixed', frames: 8 }, { kind: 'fixed', frames: 9 }, { kind: 'range', min: 8, max: 9 }, { kind: 'range', min: 7, max: 9 }, { kind: 'share', share: 8 }, { kind: 'share', share: 9 }];
    for (const [i, a] of wishes.entries()) for (const [j, b] of wishes.entries()) expect(sameWish(a, { ...b })).toBe(i === j);
  });
});
