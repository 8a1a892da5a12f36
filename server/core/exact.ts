/** Seconds as an exact fraction in lowest terms. */
export interface Exact {
  num: bigint;
  den: bigint;
  /** The nearest number. */
  seconds: number;
  plus(other: Exact): Exact;
  minus(other: Exact): Exact;
}

/** A fraction in lowest terms with a positive denominator. Throws RangeError for a denominator of 0. */
export function fraction(num: bigint, den: bigint): Exact {
  if (den === 0n) throw new RangeError('A fraction has no denominator of 0');
  let [a, b] = [num < 0n ? -num : num, den < 0n ? -den : den];
  while (b) [a, b] = [b, a % b];
  const divisor = (a || 1n) * (den < 0n ? -1n : 1n);
  const [n, d] = [num / divisor, den / divisor];
  return {
    num: n,
    den: d,
    seconds: Number(n) / Number(d),
    plus: (other) => fraction(n * other.den + other.num * d, d * other.den),
    minus: (other) => fraction(n * other.den - other.num * d, d * other.den),
  };
}
