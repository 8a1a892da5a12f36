/** Samples a second of what the reader is fed: mono, signed 16 bit, little-endian. */
const SAMPLE_RATE = 8000;
const PER_SECOND = 100;
const SAMPLES_A_PEAK = SAMPLE_RATE / PER_SECOND;

/** The outline of the sound: lowest and highest of every hundredth of a second, -128 to 127. */
export interface Peaks {
  perSecond: number;
  low: number[];
  high: number[];
}

/** Reduces sound while it is being read. */
export class PeaksReader {
  readonly #low: number[] = [];
  readonly #high: number[] = [];
  #rest = Buffer.alloc(0);
  #count = 0;
  #min = 32_767;
  #max = -32_768;

  take(chunk: Buffer): void {
    const bytes = this.#rest.length ? Buffer.concat([this.#rest, chunk]) : chunk;
    const whole = bytes.length - (bytes.length % 2);
    for (let at = 0; at < whole; at += 2) {
      const sample = bytes.readInt16LE(at);
      if (sample < this.#min) this.#min = sample;
      if (sample > this.#max) this.#max = sample;
      if (++this.#count === SAMPLES_A_PEAK) this.#close();
    }
    this.#rest = Buffer.from(bytes.subarray(whole));
  }

  result(): Peaks {
    if (this.#count) this.#close();
    return { perSecond: PER_SECOND, low: this.#low, high: this.#high };
  }

  #close(): void {
    this.#low.push(this.#min >> 8);
    this.#high.push(this.#max >> 8);
    this.#count = 0;
    this.#min = 32_767;
    this.#max = -32_768;
  }
}
