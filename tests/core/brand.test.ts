import { describe, expect, expectTypeOf, it } from 'vitest';
import { frames, millis, samples, seconds, type Frames, type Loose, type Millis } from '#core/brand.ts';

describe('branded numbers', () => {
  it.each([
    ['frames', frames],
    ['samples', samples],
    ['millis', millis],
  ] as const)('%s takes whole numbers that a double holds exactly', (_name, make) => {
    for (const n of [0, 1, -1, Number.MAX_SAFE_INTEGER]) expect(make(n)).toBe(n);
    for (const n of [0.5, NaN, Infinity, Number.MAX_SAFE_INTEGER + 1]) expect(() => make(n)).toThrow(RangeError);
    expect(Object.is(make(-0), 0)).toBe(true);
  });

  it('seconds takes fractions but nothing infinite', () => {
    expect(seconds(1.001)).toBe(1.001);
    for (const n of [NaN, Infinity]) expect(() => seconds(n)).toThrow(RangeError);
  });

  it('lets a bare number in where frames are wanted, and no other unit', () => {
    expectTypeOf<number>().toExtend<Loose<Frames>>();
    expectTypeOf<Frames>().toExtend<Loose<Frames>>();
    expectTypeOf<Millis>().not.toExtend<Loose<Frames>>();
    expectTypeOf<number>().not.toExtend<Frames>();
  });
});
