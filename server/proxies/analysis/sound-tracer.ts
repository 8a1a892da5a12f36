import { kWeighting } from '#core/k-weighting.ts';
import type { SoundTraces } from '#core/traces.ts';

/** Samples a second of what is read: signed 16 bit, little-endian, channels interleaved. */
export const SOUND_RATE = 48_000;
/** A block of BS.1770-4 is 400 ms and moves by 100. */
const HOP = SOUND_RATE / 10;
const HOPS_A_BLOCK = 4;
const FULL_SCALE = 32_760;
/** Samples in a row at full scale that are a clipped wave; one or two may be its true top. */
const CLIPPED_RUN = 3;
const LOW_HZ = 150;
/** Below this there is nothing to hear; a microphone's offset is. */
const SUBSONIC_HZ = 10;
const SILENCE_DB = -99;
/** Steps on either side that a share of low sound is averaged with. */
const RUMBLE_BESIDE = 1;

const [SHELF, HIGH] = kWeighting(SOUND_RATE);

/** Second-order Butterworth low-pass through the bilinear transform: b0, a1, a2; b1 is twice b0, b2 the same as b0. */
function lowPass(hz: number): readonly [number, number, number] {
  const k = Math.tan((Math.PI * hz) / SOUND_RATE);
  const a0 = 1 + Math.SQRT2 * k + k * k;
  return [(k * k) / a0, (2 * (k * k - 1)) / a0, (1 - Math.SQRT2 * k + k * k) / a0];
}
const [L0, L1, L2] = lowPass(LOW_HZ);
const OFFSET_KEPT = Math.exp((-2 * Math.PI * SUBSONIC_HZ) / SOUND_RATE);

/** Measures sound while it is being read. */
export class SoundTracer {
  readonly #channels: number;
  readonly #samplesPerStep: number;
  #rest: Buffer = Buffer.alloc(0);
  #position = 0;
  readonly #hopPowers: number[] = [];
  readonly #peaks: number[] = [];
  readonly #clipped: number[] = [];
  readonly #low: number[] = [];
  readonly #all: number[] = [];
  /** Memories of the K-weighting, four words a channel, and samples in a row at full scale. */
  readonly #memory: Float64Array;
  readonly #runs: Int32Array;
  #mono = { offset: 0, last: 0, one: 0, two: 0 };

  /** @param secondsPerStep length of a step, which need not be whole samples. */
  constructor(channels: number, secondsPerStep: number) {
    this.#channels = channels;
    this.#samplesPerStep = secondsPerStep * SOUND_RATE;
    this.#memory = new Float64Array(4 * channels);
    this.#runs = new Int32Array(channels);
  }

  take(chunk: Buffer): void {
    const bytes = this.#rest.length ? Buffer.concat([this.#rest, chunk]) : chunk;
    const count = Math.floor(bytes.length / (2 * this.#channels));
    const samples = new Int16Array(count * this.#channels);
    for (let at = 0; at < samples.length; at++) samples[at] = bytes.readInt16LE(2 * at);
    this.#rest = Buffer.from(bytes.subarray(2 * samples.length));
    for (let done = 0; done < count; ) {
      const step = Math.floor(this.#position / this.#samplesPerStep + 1e-9);
      const hop = Math.floor(this.#position / HOP);
      const until = Math.min(Math.max(this.#position + 1, Math.round((step + 1) * this.#samplesPerStep)), (hop + 1) * HOP);
      const some = Math.min(count - done, until - this.#position);
      this.#measure(samples.subarray(done * this.#channels, (done + some) * this.#channels), step, hop);
      this.#position += some;
      done += some;
    }
  }

  /** @param steps steps of the picture: where the sound ends before it, the rest is silent. */
  result(steps: number): SoundTraces {
    const loudness: number[] = [];
    const rumble: number[] = [];
    for (let step = 0; step < steps; step++) {
      const middle = Math.round(((step + 0.5) * this.#samplesPerStep) / HOP);
      loudness.push(loudnessOf(this.#hopPowers.slice(Math.max(0, middle - HOPS_A_BLOCK / 2), middle + HOPS_A_BLOCK / 2)));
      const about = (powers: number[]) => powers.slice(Math.max(0, step - RUMBLE_BESIDE), step + RUMBLE_BESIDE + 1).reduce((sum, power) => sum + power, 0);
      const all = about(this.#all);
      rumble.push(all > 0 ? Math.min(100, Math.round((100 * about(this.#low)) / all)) : 0);
    }
    const filled = (values: number[], rest: number) => Array.from({ length: steps }, (_, step) => values[step] ?? rest);
    return { loudness, peak: filled(this.#peaks.map(decibels), SILENCE_DB), clipped: filled(this.#clipped, 0), rumble };
  }

  #measure(samples: Int16Array, step: number, hop: number): void {
    for (const list of [this.#peaks, this.#clipped, this.#low, this.#all]) while (list.length <= step) list.push(0);
    while (this.#hopPowers.length <= hop) this.#hopPowers.push(0);
    for (let channel = 0; channel < this.#channels; channel++) {
      this.#hopPowers[hop]! += this.#weigh(samples, channel) / HOP;
      this.#tops(samples, channel, step);
    }
    this.#lowOf(samples, step);
  }

  /** The sum of the squares of one channel, K-weighted. Transposed direct form II: two words of memory a section. */
  #weigh(samples: Int16Array, channel: number): number {
    const [b0, b1, b2, a1, a2] = SHELF;
    const [c0, c1, c2, d1, d2] = HIGH;
    const memory = this.#memory;
    const from = 4 * channel;
    let [s1, s2, h1, h2] = [memory[from]!, memory[from + 1]!, memory[from + 2]!, memory[from + 3]!];
    let sum = 0;
    for (let at = channel; at < samples.length; at += this.#channels) {
      const x = samples[at]! / 32_768;
      const shelved = b0 * x + s1;
      s1 = b1 * x - a1 * shelved + s2;
      s2 = b2 * x - a2 * shelved;
      const y = c0 * shelved + h1;
      h1 = c1 * shelved - d1 * y + h2;
      h2 = c2 * shelved - d2 * y;
      sum += y * y;
    }
    memory[from] = s1;
    memory[from + 1] = s2;
    memory[from + 2] = h1;
    memory[from + 3] = h2;
    return sum;
  }

  #tops(samples: Int16Array, channel: number, step: number): void {
    let peak = this.#peaks[step]!;
    let run = this.#runs[channel]!;
    for (let at = channel; at < samples.length; at += this.#channels) {
      const high = Math.abs(samples[at]!);
      if (high > peak) peak = high;
      run = high >= FULL_SCALE ? run + 1 : 0;
      if (run === CLIPPED_RUN) this.#clipped[step]!++;
    }
    this.#peaks[step] = peak;
    this.#runs[channel] = run;
  }

  /** The power below and above `LOW_HZ` of all channels together. */
  #lowOf(samples: Int16Array, step: number): void {
    let { offset, last, one, two } = this.#mono;
    let low = 0;
    let all = 0;
    for (let at = 0; at < samples.length; ) {
      let x = 0;
      for (let channel = 0; channel < this.#channels; channel++) x += samples[at++]!;
      offset = OFFSET_KEPT * (offset + x - last);
      last = x;
      const y = L0 * offset + one;
      one = 2 * L0 * offset - L1 * y + two;
      two = L0 * offset - L2 * y;
      low += y * y;
      all += offset * offset;
    }
    this.#low[step]! += low;
    this.#all[step]! += all;
    this.#mono = { offset, last, one, two };
  }
}

const decibels = (peak: number): number => (peak > 0 ? Math.max(SILENCE_DB, Math.min(0, Math.round(20 * Math.log10(peak / 32_768)))) : SILENCE_DB);

function loudnessOf(powers: readonly number[]): number {
  const power = powers.reduce((sum, one) => sum + one, 0) / Math.max(1, powers.length);
  return power > 0 ? Math.max(SILENCE_DB, Math.round(-0.691 + 10 * Math.log10(power))) : SILENCE_DB;
}
