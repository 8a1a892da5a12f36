// How two sounds lie on one another, to the sample: by the phases of short stretches (generalized cross-correlation with
// phase transform, Knapp and Carter 1976, "The generalized correlation method for estimation of time delay", IEEE ASSP-24).
import { Fft } from '#core/fft.ts';
import { SOUND_RATE, type Sound } from './sound.ts';

/** Hz that count: below lies wind and hum, above what a telephone does not carry. */
const [LOW, HIGH] = [200, 3600];
/** Mean square of samples below which a stretch is silence: a step or so of 16 bits. */
const SILENCE = 4;
/** Samples around a peak that belong to it. */
const OF_PEAK = 12;

export interface Peak {
  /** Samples that b lies later than was expected. */
  shift: number;
  /** Height of the peak, in standard deviations of what lies elsewhere. */
  height: number;
  /** The next highest, elsewhere. */
  second: number;
}

/** Compares stretches of one length. */
export class Finder {
  readonly length: number;
  readonly #fft: Fft;
  readonly #re: Float64Array;
  readonly #im: Float64Array;
  readonly #hann: Float64Array;

  /** @param length of the stretches in samples, a power of two. */
  constructor(length: number) {
    this.length = length;
    this.#fft = new Fft(2 * length);
    this.#re = new Float64Array(2 * length);
    this.#im = new Float64Array(2 * length);
    this.#hann = Float64Array.from({ length }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / length));
  }

  /**
   * Looks how a stretch of `a` lies on one of `b`.
   * @param reach how many samples off the expected place is looked.
   * @returns null where one of the two is silent.
   */
  compare(a: Sound, fromA: number, b: Sound, fromB: number, reach: number): Peak | null {
    const [re, im, size] = [this.#re, this.#im, 2 * this.length];
    if (!this.#put(a.read(fromA, this.length), re) || !this.#put(b.read(fromB, this.length), im)) return null;
    this.#fft.transform(re, im);
    const [low, high] = [Math.round((LOW * size) / SOUND_RATE), Math.round((HIGH * size) / SOUND_RATE)];
    const [crossRe, crossIm] = [new Float64Array(size), new Float64Array(size)];
    for (let k = low; k < high; k++) {
      const m = size - k;
      const [ar, ai, br, bi] = [re[k]! + re[m]!, im[k]! - im[m]!, im[k]! + im[m]!, re[m]! - re[k]!];
      const [cr, ci] = [ar * br + ai * bi, ar * bi - ai * br];
      const size2 = Math.sqrt(cr * cr + ci * ci);
      if (size2 === 0) continue;
      crossRe[k] = cr / size2;
      crossIm[k] = ci / size2;
      crossRe[m] = crossRe[k]!;
      crossIm[m] = -crossIm[k]!;
    }
    this.#fft.transform(crossRe, crossIm);
    return peakOf((shift) => crossRe[(size - shift) & (size - 1)]!, reach);
  }

  #put(samples: Int16Array, into: Float64Array): boolean {
    into.fill(0);
    let power = 0;
    for (let n = 0; n < samples.length; n++) {
      power += samples[n]! ** 2;
      into[n] = samples[n]! * this.#hann[n]!;
    }
    return power > SILENCE * samples.length;
  }
}

function peakOf(at: (shift: number) => number, reach: number): Peak {
  let shift = 0;
  for (let n = -reach; n <= reach; n++) if (at(n) > at(shift)) shift = n;
  let [power, count, second] = [0, 0, 0];
  for (let n = -reach; n <= reach; n++) {
    if (Math.abs(n - shift) <= OF_PEAK) continue;
    power += at(n) ** 2;
    count++;
    second = Math.max(second, at(n));
  }
  const deviation = Math.sqrt(power / Math.max(1, count)) || Number.MIN_VALUE;
  return { shift, height: at(shift) / deviation, second: second / deviation };
}
