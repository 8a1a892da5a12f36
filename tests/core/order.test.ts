import { describe, expect, it } from 'vitest';
import { between, spread } from '#core/order.ts';

describe('order keys', () => {
  it('find a place before, between and after', () => {
    const middle = between(null, null);
    const after = between(middle, null);
    const before = between(null, middle);
    const inside = between(middle, after);
    expect([after, inside, middle, before].sort()).toEqual([before, middle, inside, after]);
    expect(new Set([after, inside, middle, before]).size).toBe(4);
  });

  it('are spread in order, all different, inside their gap', () => {
    const [low, high] = spread(null, null, 2) as [string, string];
    for (const [a, b] of [[null, null], [low, null], [null, low], [low, high]] as const) {
      const keys = spread(a, b, 300);
      const all = [a, ...keys, b].filter((key) => key !== null);
      expect(all).toEqual([...new Set(all)].sort());
      expect(keys).toHaveLength(300);
    }
    expect(spread(low, high, 0)).toEqual([]);
  });

  it('never run out in one gap, and stay short enough to store', () => {
    const low = between(null, null);
    let high = between(low, null);
    for (let i = 0; i < 500; i++) {
      const key = between(low, high);
      expect(low < key && key < high).toBe(true);
      high = key;
    }
    expect(high.length).toBeLessThan(200);
  });

  // The collations are those of the Unicode CLDR in the running ICU; Postgres has the same ones and the C library's.
  it.each(['en', 'cs', 'da', 'lt', 'sv', 'tr'])('sort alike byte by byte and in the collation of %s', (language) => {
    const keys = spread(null, null, 700);
    for (let i = 0; i < 200; i++) keys.push(between(null, [...keys].sort()[0]!), between(keys[3]!, keys[4 + (i % 3)]!));
    expect([...keys].sort(new Intl.Collator(language).compare)).toEqual([...keys].sort());
  });

  it('are refused where there is no gap', () => {
    const [low, high] = spread(null, null, 2) as [string, string];
    expect(() => between(high, low)).toThrow(RangeError);
    expect(() => between(low, low)).toThrow(RangeError);
    expect(() => spread(high, low, 3)).toThrow(RangeError);
    expect(() => spread(low, high, -1)).toThrow(RangeError);
    expect(() => between('no key', null)).toThrow();
  });
});
