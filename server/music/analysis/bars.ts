import type { Accents } from './accents.ts';
import { COLOUR_BANDS, FLUX_BANDS } from './features.ts';
import type { Features } from './features.ts';

/** Beats a bar may have. */
const BAR_LENGTHS = [3, 4] as const;
/** What it costs to begin a bar that is not as long as the one before, or to break one off. */
const CHANGE_COST = 8;

/** What makes a beat the first of a bar, by the linear rule of the model. */
export interface BarRule {
  readonly weights: readonly number[];
  readonly bias: number;
}

export interface Bars {
  /** For each beat its place in the bar, 1 for the first. */
  readonly inBar: readonly number[];
  /** For each beat how far its bar is to be believed, 0..1. */
  readonly confidence: readonly number[];
}

/** One row a beat: rises by band, and changes of harmony and of colour over one, two and four beats; each relative to the piece. */
export function describeBeats(beats: readonly number[], accents: Accents, features: Features): number[][] {
  const lengths = beats.map((beat, i) => (i + 1 < beats.length ? beats[i + 1]! - beat : beat - beats[i - 1]!));
  const rows = beats.map((beat, i) => [
    ...Array.from({ length: FLUX_BANDS }, (_, band) => accents.rise(beat, band)),
    ...[1, 2, 4].map((reach) => accents.harmonyChange(beat, reach * lengths[i]!)),
    ...[1, 4].map((reach) => colourChange(features, beat, Math.round(reach * lengths[i]!))),
  ]);
  const width = rows[0]?.length ?? 0;
  for (let column = 0; column < width; column++) {
    const values = rows.map((row) => row[column]!);
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    const spread = Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length) + 1e-6;
    for (const row of rows) row[column] = Math.max(-3, Math.min(3, (row[column]! - mean) / spread));
  }
  return rows;
}

/** Mean difference in dB between the bands' levels before and after a frame. */
function colourChange({ colour, frames }: Features, frame: number, reach: number): number {
  let sum = 0;
  for (let band = 0; band < COLOUR_BANDS; band++) {
    const level = (from: number, to: number): number => {
      let total = 0;
      for (let at = Math.max(0, from); at < Math.min(frames, to); at++) total += colour[at * COLOUR_BANDS + band]!;
      return total / Math.max(1, Math.min(frames, to) - Math.max(0, from));
    };
    sum += Math.abs(level(frame, frame + reach) - level(frame - reach, frame));
  }
  return sum / COLOUR_BANDS;
}

/**
 * Places the bars: the sequence of bars of three or four beats that collects most evidence for first beats, changes of length
 * costing dear. Exact, by dynamic programming.
 */
export function barsOf(rows: readonly (readonly number[])[], rule: BarRule): Bars {
  const evidence = rows.map((row) => row.reduce((sum, value, i) => sum + value * rule.weights[i]!, rule.bias));
  const places = BAR_LENGTHS.flatMap((length) => Array.from({ length }, (_, place) => ({ length, place })));
  let best = places.map(() => 0);
  const from: number[][] = [];
  evidence.forEach((value, i) => {
    const leader = best.indexOf(Math.max(...best));
    const came = places.map(({ length, place }, state) => {
      if (i === 0) return state;
      const regular = place > 0 ? state - 1 : state + length - 1;
      return place === 0 && best[leader]! - CHANGE_COST > best[regular]! ? leader : regular;
    });
    best = places.map(({ place }, state) => {
      const before = came[state]!;
      const { length, place: placeBefore } = places[before]!;
      const irregular = i > 0 && place === 0 && (placeBefore !== length - 1 || length !== places[state]!.length);
      return best[before]! - (irregular ? CHANGE_COST : 0) + (place === 0 ? value : 0);
    });
    from.push(came);
  });
  const inBar: number[] = [];
  let state = best.indexOf(Math.max(...best));
  for (let i = rows.length - 1; i >= 0; i--) {
    inBar.push(places[state]!.place + 1);
    state = from[i]![state]!;
  }
  inBar.reverse();
  return { inBar, confidence: rows.map((_, i) => belief(evidence, inBar, i)) };
}

/** Evidence is compared over so many beats before and after. */
const AROUND = 16;

/** How much more evidence there is on first beats than on the best other place of the bar, nearby. */
function belief(evidence: readonly number[], inBar: readonly number[], at: number): number {
  const sums = [0, 0, 0, 0];
  const counts = [0, 0, 0, 0];
  for (let i = Math.max(0, at - AROUND); i < Math.min(evidence.length, at + AROUND + 1); i++) {
    sums[inBar[i]! - 1]! += evidence[i]!;
    counts[inBar[i]! - 1]!++;
  }
  const means = sums.map((sum, place) => (counts[place]! > 0 ? sum / counts[place]! : -Infinity));
  return 1 / (1 + Math.exp(-(means[0]! - Math.max(...means.slice(1)))));
}
