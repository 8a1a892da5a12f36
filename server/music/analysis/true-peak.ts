/** Samples on each side that an interpolated one is made of. */
const REACH = 12;
const HELD = 2 * REACH - 1;
const CHUNK = 32;
/** BS.1770-4, Annex 2: the level between samples is looked for at 192 kHz or so, so four, two, or no times oversampled. */
const FINE_RATE = 176_400;

/**
 * The highest magnitude between samples (ITU-R BS.1770-4, Annex 2), by a windowed sinc. A stretch that cannot hold a new peak,
 * because even the filter's largest gain would leave it below the one found, is not interpolated: the result is the same.
 */
export class TruePeak {
  private readonly phases: readonly Float64Array[];
  private readonly gain: number;
  private highest = 0;
  /** The last 2·REACH − 1 samples, and after them those just pushed. */
  private all = new Float64Array(2 * HELD);

  /** @param sampleRate samples a second. */
  constructor(sampleRate: number) {
    let times = 1;
    while (times < 4 && sampleRate * times < FINE_RATE) times *= 2;
    this.phases = Array.from({ length: times - 1 }, (_, i) => phase((i + 1) / times));
    this.gain = Math.max(1, ...this.phases.map((taps) => taps.reduce((sum, tap) => sum + Math.abs(tap), 0)));
  }

  push(samples: Float32Array): void {
    const length = HELD + samples.length;
    if (this.all.length < length) {
      const wider = new Float64Array(length);
      wider.set(this.all.subarray(0, HELD));
      this.all = wider;
    }
    const { all } = this;
    for (let i = 0; i < samples.length; i++) {
      const given = samples[i]!;
      all[HELD + i] = given - given === 0 ? given : 0;
    }
    for (let from = 0; from + HELD < length; from += CHUNK) this.search(from, Math.min(from + CHUNK, length - HELD));
    all.copyWithin(0, length - HELD, length);
  }

  /** The highest magnitude of all that was pushed, 1 for full scale; nothing follows. */
  end(): number {
    this.push(new Float32Array(2 * REACH));
    return this.highest;
  }

  /** Looks at the samples REACH−1 after `from` up to `to`, and between each and its next. */
  private search(from: number, to: number): void {
    const { all } = this;
    let largest = 0;
    for (let i = from; i < to + HELD; i++) {
      const value = Math.abs(all[i]!);
      if (value > largest) largest = value;
    }
    if (largest * this.gain <= this.highest) return;
    let { highest } = this;
    for (let i = from; i < to; i++) highest = Math.max(highest, Math.abs(all[i + REACH - 1]!));
    for (const taps of this.phases) {
      for (let i = from; i < to; i++) {
        let sum = 0;
        for (let k = 0; k < 2 * REACH; k++) sum += taps[k]! * all[i + k]!;
        highest = Math.max(highest, Math.abs(sum));
      }
    }
    this.highest = highest;
  }
}

/** Taps that give the value `share` of a sample after the middle one: sinc under a Hann window, unit gain at 0 Hz. */
function phase(share: number): Float64Array {
  const taps = Float64Array.from({ length: 2 * REACH }, (_, k) => {
    const x = k - (REACH - 1) - share;
    return (Math.sin(Math.PI * x) / (Math.PI * x)) * (0.5 + 0.5 * Math.cos((Math.PI * x) / REACH));
  });
  const sum = taps.reduce((all, tap) => all + tap, 0);
  return taps.map((tap) => tap / sum);
}
