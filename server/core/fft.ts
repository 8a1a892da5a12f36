/** A fast Fourier transform of one size: radix 2, in place, decimation in time (Cooley and Tukey 1965). */
export class Fft {
  readonly size: number;
  /** Of each stage from the third on, one after another: cosine and sine of k turns in 2·half, k from 0 to half. */
  private readonly turns: Float64Array;
  private readonly reversed: Uint32Array;

  /** @param size a power of two, 2 or more. */
  constructor(size: number) {
    if (size < 2 || (size & (size - 1)) !== 0) throw new RangeError(`${size} is no power of two`);
    this.size = size;
    const turns: number[] = [];
    for (let half = 4; half < size; half *= 2) for (let k = 0; k < half; k++) turns.push(Math.cos((Math.PI * k) / half), Math.sin((Math.PI * k) / half));
    this.turns = Float64Array.from(turns);
    const bits = Math.log2(size);
    this.reversed = new Uint32Array(size);
    for (let i = 0; i < size; i++) for (let bit = 0; bit < bits; bit++) if (i & (1 << bit)) this.reversed[i]! |= 1 << (bits - 1 - bit);
  }

  /** Transforms re + i·im in place: X[k] = Σ x[n]·e^(−2πikn/size). Both arrays are of `size`. */
  transform(re: Float64Array, im: Float64Array): void {
    const { size, reversed } = this;
    for (let i = 0; i < size; i++) {
      const j = reversed[i]!;
      if (j <= i) continue;
      const r = re[i]!;
      re[i] = re[j]!;
      re[j] = r;
      const m = im[i]!;
      im[i] = im[j]!;
      im[j] = m;
    }
    if (size >= 4) quarters(re, im);
    else butterfly(re, im);
    this.stages(re, im);
  }

  /** The stages from the third on. */
  private stages(re: Float64Array, im: Float64Array): void {
    const { size, turns } = this;
    for (let half = 4, from = 0; half < size; from += 2 * half, half *= 2) {
      for (let start = 0; start < size; start += 2 * half) {
        for (let k = 0; k < half; k++) {
          const c = turns[from + 2 * k]!;
          const s = turns[from + 2 * k + 1]!;
          const a = start + k;
          const b = a + half;
          const r = re[b]! * c + im[b]! * s;
          const m = im[b]! * c - re[b]! * s;
          re[b] = re[a]! - r;
          im[b] = im[a]! - m;
          re[a]! += r;
          im[a]! += m;
        }
      }
    }
  }

  /**
   * Magnitudes of two real signals by one transform: one is its real, the other its imaginary part, told apart by symmetry.
   * @param re the first signal, @param im the second; both are overwritten.
   * @param first @param second take as many magnitudes each as they are long, size/2 at most, from 0 Hz up.
   */
  magnitudesOfTwo(re: Float64Array, im: Float64Array, first: Float64Array, second: Float64Array): void {
    this.transform(re, im);
    for (let k = 0; k < first.length; k++) {
      const mirror = k === 0 ? 0 : this.size - k;
      first[k] = magnitude(re[k]! + re[mirror]!, im[k]! - im[mirror]!) / 2;
      second[k] = magnitude(im[k]! + im[mirror]!, re[mirror]! - re[k]!) / 2;
    }
  }
}

/** Math.hypot guards against overflow that cannot happen here and is many times slower. */
const magnitude = (re: number, im: number): number => Math.sqrt(re * re + im * im);

/** The first two stages at once: their turns are by quarters, so they need no multiplication. */
function quarters(re: Float64Array, im: Float64Array): void {
  for (let at = 0; at < re.length; at += 4) {
    const [r0, r1, r2, r3] = [re[at]! + re[at + 1]!, re[at]! - re[at + 1]!, re[at + 2]! + re[at + 3]!, re[at + 2]! - re[at + 3]!];
    const [m0, m1, m2, m3] = [im[at]! + im[at + 1]!, im[at]! - im[at + 1]!, im[at + 2]! + im[at + 3]!, im[at + 2]! - im[at + 3]!];
    re[at] = r0 + r2;
    im[at] = m0 + m2;
    re[at + 1] = r1 + m3;
    im[at + 1] = m1 - r3;
    re[at + 2] = r0 - r2;
    im[at + 2] = m0 - m2;
    re[at + 3] = r1 - m3;
    im[at + 3] = m1 + r3;
  }
}

/** The whole transform of two. */
function butterfly(re: Float64Array, im: Float64Array): void {
  [re[0], re[1]] = [re[0]! + re[1]!, re[0]! - re[1]!];
  [im[0], im[1]] = [im[0]! + im[1]!, im[0]! - im[1]!];
}
