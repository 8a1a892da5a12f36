import type { Accents } from './accents.ts';
import { describeBeats } from './bars.ts';
import type { BarRule } from './bars.ts';
import { shared } from './candidates.ts';
import { likelihood } from './decode.ts';
import { FRAME_RATE } from './features.ts';
import type { Features } from './features.ts';
import { secondsOf } from './hits.ts';
import type { Hit } from './hits.ts';
import type { Likelihoods } from './patterns.ts';

/** The usual beat, in BPM: tempo is measured in octaves from here. */
const USUAL_BPM = 110;

/** The band of bass and kick drum, and that of the snare drum. */
const LOW_BAND = 0;
const SNARE_BAND = 2;

/** A change of tempo within so many beats is a leap. */
const LEAP_BEATS = 4;

/** A piece as its beats are described in. */
export interface Ground {
  readonly features: Features;
  readonly accents: Accents;
  readonly hits: readonly Hit[];
  /** Under more patterns than the beats were searched with. */
  readonly fine: Likelihoods;
  readonly bars: BarRule;
}

/** What distinguishes the beat from its half, its double and its off-beat; one number each, of the order of 1. */
export function describe(beats: readonly number[], all: readonly (readonly number[])[], { features, accents, hits, fine, bars }: Ground): number[] {
  const lengths = beats.slice(1).map((beat, i) => beat - beats[i]!);
  const octaves = Math.log2((60 * FRAME_RATE) / median(lengths) / USUAL_BPM);
  const perFrame = likelihood(fine, beats) / fine.frames;
  const agreement = mean(all.filter((other) => other !== beats).map((other) => shared(beats, other) / Math.max(1, Math.min(beats.length, other.length))));
  const at = (share: number): number[] => beats.slice(0, -1).map((beat, i) => Math.round(beat + lengths[i]! * share));
  const [on, half] = [at(0), at(1 / 2)];
  const [odd, even] = [on.filter((_, i) => i % 2 === 0), on.filter((_, i) => i % 2 === 1)];
  const harmony = (frames: readonly number[]): number => mean(frames.map((frame, i) => accents.harmonyChange(frame, lengths[i]!)));
  const rise = (frames: readonly number[], band = LOW_BAND): number => mean(frames.map((frame) => accents.rise(frame, band)));
  const [onBeat, onHalf, onQuarters, onThirds] = [rise(on), rise(half), rise([...at(1 / 4), ...at(3 / 4)]), rise([...at(1 / 3), ...at(2 / 3)])];
  const alternation = rise(odd) - rise(even);
  // Kick and snare that take turns from beat to beat tell the beat; those that take turns within it, its half.
  const turnsAbout = -alternation * (rise(odd, SNARE_BAND) - rise(even, SNARE_BAND));
  const turnsWithin = -(onBeat - onHalf) * (rise(on, SNARE_BAND) - rise(half, SNARE_BAND));
  const inside = hits.filter((hit) => hit.at >= secondsOf(beats[0]!) && hit.at <= secondsOf(beats.at(-1)!));
  const leap = Math.max(0, ...lengths.slice(LEAP_BEATS).map((length, i) => Math.abs(Math.log2(length / lengths[i]!))));
  const density = Math.log2((inside.length + 1) / lengths.length);
  return [
    ...[octaves, octaves ** 2, perFrame, agreement, harmony(on) - harmony(half), density, density ** 2, leap],
    ...[onBeat - onHalf, onBeat - onQuarters, onHalf - onQuarters, Math.abs(alternation), onThirds - Math.max(onHalf, onQuarters), turnsAbout, turnsWithin],
    ...standingOut(describeBeats(beats, accents, features), bars),
  ];
}

/** Beats of a bar whose firsts are looked for. */
const BAR_LENGTHS = [3, 4];

/** For bars of each length, how far the evidence for first beats on the best place of the bar lies above that on all. */
function standingOut(rows: readonly (readonly number[])[], { weights, bias }: BarRule): number[] {
  const evidence = rows.map((row) => row.reduce((sum, value, i) => sum + value * weights[i]!, bias));
  return BAR_LENGTHS.map((length) => {
    const places = Array.from({ length }, (_, place) => mean(evidence.filter((_, i) => i % length === place)));
    return Math.max(...places) - mean(places);
  });
}

/** A linear choice: the descriptions are compared within a piece only, so what all candidates share falls out. */
export interface Rule {
  readonly weights: readonly number[];
}

/** How likely each candidate is; together 1. */
export function chancesOf(descriptions: readonly (readonly number[])[], { weights }: Rule): number[] {
  const odds = descriptions.map((description) => description.reduce((sum, value, i) => sum + value * weights[i]!, 0));
  const powers = odds.map((value) => Math.exp(value - Math.max(...odds)));
  const all = powers.reduce((sum, value) => sum + value, 0);
  return powers.map((power) => power / all);
}

/** The share of beats that each candidate can be expected to have right (F-measure): where two are about as likely, one that agrees with both. */
export const expected = (candidates: readonly (readonly number[])[], chances: readonly number[]): number[] =>
  candidates.map((one) => candidates.reduce((sum, other, i) => sum + (chances[i]! * 2 * shared(one, other)) / (one.length + other.length), 0));

const mean = (values: readonly number[]): number => (values.length === 0 ? 0 : values.reduce((sum, value) => sum + value, 0) / values.length);

function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted.length === 0 ? 0 : (sorted[(sorted.length - 1) >> 1]! + sorted[sorted.length >> 1]!) / 2;
}
