import { kWeighting } from '#core/k-weighting.ts';
import type { Section } from '#core/k-weighting.ts';
import type { Sound } from './sound.ts';
import { TruePeak } from './true-peak.ts';

export interface Loudness {
  /** LUFS over the whole sound, gated; null where nothing is above the absolute gate or there is less than a block. */
  integratedLufs: number | null;
  /** The highest level between samples, dB re full scale; null for digital silence. */
  truePeakDbtp: number | null;
  /** Loudness range, LU; null where there is too little to say. */
  rangeLu: number | null;
}

export interface Measured {
  readonly loudness: Loudness;
  /** The K-weighted power of each whole 100 ms, summed over channels. */
  readonly powers: Float64Array;
  /** The power that `integratedLufs` is the level of. */
  readonly power: number | null;
}

const STEP_SECONDS = 0.1;
/** A block is 400 ms with 75 % overlap, a short-term window 3 s; both in steps of 100 ms. */
const BLOCK_STEPS = 4;
const SHORT_TERM_STEPS = 30;
const ABSOLUTE_GATE_LUFS = -70;
const RELATIVE_GATE_LU = -10;
const RANGE_GATE_LU = -20;
const RANGE_LOW = 0.1;
const RANGE_HIGH = 0.95;

/**
 * Integrated loudness and true peak by ITU-R BS.1770-4, loudness range by EBU Tech 3342. Each channel counts with the weight
 * of a front channel, so surround must be mixed down first; mono is one channel, as BS.1770 has it.
 * @param step called for each block with the share done, 0 to 1; throws to stop.
 */
export function loudnessOf(sound: Sound, step: (fraction: number) => void = () => {}): Measured {
  const { powers, peak } = stepPowers(sound, step);
  const power = integrated(powers);
  return { loudness: { integratedLufs: power === null ? null : lufs(power), truePeakDbtp: peak > 0 ? 20 * Math.log10(peak) : null, rangeLu: range(powers) }, powers, power };
}

/** The power of each step, and the true peak of the same pass as a factor of full scale. */
function stepPowers(sound: Sound, step: (fraction: number) => void): { powers: Float64Array; peak: number } {
  const stepLength = sound.sampleRate * STEP_SECONDS;
  const sections = kWeighting(sound.sampleRate);
  const channels = Array.from({ length: sound.channels }, () => ({ meter: new StepMeter(sections, stepLength, Math.floor(sound.length / stepLength)), peak: new TruePeak(sound.sampleRate) }));
  let done = 0;
  for (const block of sound.blocks()) {
    block.forEach((samples, index) => {
      channels[index]!.meter.push(samples);
      channels[index]!.peak.push(samples);
    });
    done += block[0]!.length;
    step(done / sound.length);
  }
  const powers = channels[0]!.meter.powers.map((_, i) => channels.reduce((sum, { meter }) => sum + meter.powers[i]!, 0));
  return { powers, peak: channels.reduce((highest, { peak }) => Math.max(highest, peak.end()), 0) };
}

/** The K-weighted mean power of each step of one channel; the same however the sound is cut into blocks. */
class StepMeter {
  readonly powers: Float64Array;
  private readonly sections: readonly [Section, Section];
  private readonly stepLength: number;
  /** Two words of memory a section, of a transposed direct form II. */
  private readonly memory = new Float64Array(4);
  private step = 0;
  private at = 0;
  private sum = 0;

  constructor(sections: readonly [Section, Section], stepLength: number, steps: number) {
    this.sections = sections;
    this.stepLength = stepLength;
    this.powers = new Float64Array(steps);
  }

  push(samples: Float32Array): void {
    for (let from = 0; from < samples.length && this.step < this.powers.length; ) {
      const [begin, end] = [Math.ceil(this.step * this.stepLength), Math.ceil((this.step + 1) * this.stepLength)];
      const to = Math.min(samples.length, from + end - this.at);
      this.weigh(samples, from, to);
      this.at += to - from;
      from = to;
      if (this.at < end) return;
      this.powers[this.step++] = this.sum / (end - begin);
      this.sum = 0;
    }
  }

  private weigh(samples: Float32Array, from: number, to: number): void {
    const [[b0, b1, b2, a1, a2], [c0, c1, c2, d1, d2]] = this.sections;
    let [s1, s2, h1, h2] = this.memory as unknown as [number, number, number, number];
    let { sum } = this;
    for (let i = from; i < to; i++) {
      const given = samples[i]!;
      const x = given - given === 0 ? given : 0;
      const shelved = b0 * x + s1;
      s1 = b1 * x - a1 * shelved + s2;
      s2 = b2 * x - a2 * shelved;
      const y = c0 * shelved + h1;
      h1 = c1 * shelved - d1 * y + h2;
      h2 = c2 * shelved - d2 * y;
      sum += y * y;
    }
    this.memory.set([s1, s2, h1, h2]);
    this.sum = sum;
  }
}

/** Level and power of each other (BS.1770-4). */
const lufs = (power: number): number => -0.691 + 10 * Math.log10(power);
export const powerOf = (level: number): number => 10 ** ((level + 0.691) / 10);
const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;

/** Mean power of each window of `width` steps. */
function windows(steps: Float64Array, width: number): number[] {
  const found: number[] = [];
  for (let at = 0; at + width <= steps.length; at++) found.push(mean(Array.from(steps.subarray(at, at + width))));
  return found;
}

/** The windows louder than the absolute gate, and of those the ones louder than `below` LU under their mean. */
function gated(powers: readonly number[], below: number): number[] {
  const heard = powers.filter((power) => power > powerOf(ABSOLUTE_GATE_LUFS));
  if (heard.length === 0) return [];
  const gate = mean(heard) * 10 ** (below / 10);
  return heard.filter((power) => power > gate);
}

function integrated(steps: Float64Array): number | null {
  const kept = gated(windows(steps, BLOCK_STEPS), RELATIVE_GATE_LU);
  return kept.length > 0 ? mean(kept) : null;
}

function range(steps: Float64Array): number | null {
  const kept = gated(windows(steps, SHORT_TERM_STEPS), RANGE_GATE_LU).sort((a, b) => a - b);
  if (kept.length === 0) return null;
  const at = (share: number): number => lufs(kept[Math.round((kept.length - 1) * share)]!);
  return at(RANGE_HIGH) - at(RANGE_LOW);
}
