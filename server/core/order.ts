import { generateKeyBetween, generateNKeysBetween } from 'fractional-indexing';

/*
 * Places in a list that people reorder at once: each line has a key, the list is the lines sorted by key, and a move
 * writes one key. Two people may make the same key for the same gap: sort by key, then by id.
 */

// Digits alone sort alike in every collation. Letters do not (capitals in most of them, "ch" in Czech), and the list
// is sorted both by Postgres and by the browser.
const DIGITS = '0123456789';

/**
 * A key that sorts after `a` and before `b`; null is the beginning or the end of the list.
 * Throws RangeError when `a` is not before `b`.
 */
export function between(a: string | null, b: string | null): string {
  checkGap(a, b);
  return generateKeyBetween(a, b, DIGITS);
}

/** `n` keys in order, evenly spread between `a` and `b`; null is the beginning or the end. Throws as `between`. */
export function spread(a: string | null, b: string | null, n: number): string[] {
  if (!Number.isSafeInteger(n) || n < 0) throw new RangeError(`A count of keys is a whole number from 0; got ${n}.`);
  checkGap(a, b);
  return generateNKeysBetween(a, b, n, DIGITS);
}

function checkGap(a: string | null, b: string | null): void {
  if (a !== null && b !== null && a >= b) throw new RangeError(`There is no place between ${a} and ${b}.`);
}
