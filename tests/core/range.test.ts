import { describe, expect, it } from 'vitest';
import {
  checkRange,
  clamp,
  contains,
  intersect,
  lengthOf,
  overlaps,
  subtract,
  union,
  type FrameRange,
} from '#core/range.ts';

const r = (first: number, end: number): FrameRange => ({ in: first, outExclusive: end });

/** The frames of a list as a set: the plain meaning of a range, which everything here is held against. */
const framesOf = (list: readonly FrameRange[]) =>
  new Set(list.flatMap((range) => Array.from({ length: range.outExclusive - range.in }, (_, i) => range.in + i)));

const both = (a: Set<number>, b: Set<number>) => new Set([...a].filter((n) => b.has(n)));
const without = (a: Set<number>, b: Set<number>) => new Set([...a].filter((n) => !b.has(n)));

/** All ranges, empty ones too, within a few frames. */
const ALL = [0, 1, 2, 3, 4, 5, 6].flatMap((first) => [0, 1, 2, 3].map((n) => r(first, first + n)));

describe('a range', () => {
  it('holds its in and not its out', () => {
    expect([2, 3, 4, 5].filter((n) => contains(r(3, 5), n))).toEqual([3, 4]);
    expect(lengthOf(r(3, 5))).toBe(2);
  });

  it('agrees with sets of frames, two by two', () => {
    for (const a of ALL.filter((x) => lengthOf(x) > 0)) {
      for (const b of ALL.filter((x) => lengthOf(x) > 0)) {
        const shared = both(framesOf([a]), framesOf([b]));
        expect(overlaps(a, b)).toBe(shared.size > 0);
        const found = intersect(a, b);
        expect(found ? framesOf([found]) : new Set()).toEqual(shared);
      }
    }
  });

  it('is cut to its clip', () => {
    expect(clamp(r(-3, 5), 10)).toEqual(r(0, 5));
    expect(clamp(r(8, 50), 10)).toEqual(r(8, 10));
    expect(clamp(r(10, 12), 10)).toBeNull();
  });
});

describe('lists of ranges', () => {
  it('join what overlaps and what touches', () => {
    expect(union([r(20, 25), r(0, 5), r(3, 9), r(9, 12), r(15, 15)])).toEqual([r(0, 12), r(20, 25)]);
    expect(union([])).toEqual([]);
    expect(union([r(0, 9), r(2, 3)])).toEqual([r(0, 9)]);
  });

  it('take holes out', () => {
    expect(subtract([r(0, 16)], [r(2, 5), r(12, 20)])).toEqual([r(0, 2), r(5, 12)]);
    expect(subtract([r(0, 5)], [r(0, 5)])).toEqual([]);
    expect(subtract([r(0, 5)], [])).toEqual([r(0, 5)]);
  });

  it('agree with sets of frames, and are written in the fewest ranges', () => {
    for (const a of ALL) {
      for (const b of ALL) {
        for (const c of [r(0, 1), r(2, 4), r(3, 3), r(5, 6)]) {
          const joined = union([a, b, c]);
          expect(framesOf(joined)).toEqual(framesOf([a, b, c]));
          const left = subtract([a, c], [b]);
          expect(framesOf(left)).toEqual(without(framesOf([a, c]), framesOf([b])));
          for (const list of [joined, left]) {
            for (const [i, next] of list.entries()) {
              expect(lengthOf(next)).toBeGreaterThan(0);
              if (i > 0) expect(next.in).toBeGreaterThan(list[i - 1]!.outExclusive);
            }
          }
        }
      }
    }
  });

  it('leave what they were given alone', () => {
    const given = Object.freeze([r(5, 9), r(0, 6)]);
    union(given);
    subtract(given, given);
    expect(given).toEqual([r(5, 9), r(0, 6)]);
  });
});

describe('checkRange', () => {
  it.each([r(0, 1), r(0, 10), r(9, 10)])('accepts %o in a clip of 10 frames', (range) => {
    expect(checkRange(range, 10)).toBeNull();
  });

  it.each([
    [r(3, 3), 'empty', 'outExclusive'],
    [r(5, 3), 'reversed', 'outExclusive'],
    [r(-1, 3), 'before-start', 'in'],
    [r(3, 11), 'past-end', 'outExclusive'],
    [r(10, 11), 'past-end', 'outExclusive'],
    [r(0.5, 3), 'not-whole', 'in'],
    [r(0, NaN), 'not-whole', 'outExclusive'],
  ])('refuses %o: %s in %s', (range, code, field) => {
    const reason = checkRange(range, 10);
    expect(reason).toMatchObject({ code, field });
    expect(reason?.expected).not.toBe('');
  });
});
