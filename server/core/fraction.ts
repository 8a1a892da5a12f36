/** a / b rounded towards minus infinity, exactly. `b` is positive. */
export function floorDivide(a: bigint, b: bigint): bigint {
  const quotient = a / b;
  return a % b < 0n ? quotient - 1n : quotient;
}

/** a / b rounded towards plus infinity, exactly. `b` is positive. */
export const ceilDivide = (a: bigint, b: bigint): bigint => -floorDivide(-a, b);

/** a / b rounded to the nearest whole number, halves up (towards plus infinity), exactly. `b` is positive. */
export const nearestDivide = (a: bigint, b: bigint): bigint => floorDivide(2n * a + b, 2n * b);

/** The greatest common divisor of two positive whole numbers. */
export function greatestDivisor(a: number, b: number): number {
  while (b !== 0) [a, b] = [b, a % b];
  return a;
}
