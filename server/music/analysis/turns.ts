import { COLOUR_BANDS, FLUX_BANDS, PITCH_CLASSES } from './features.ts';
import type { Features } from './features.ts';

/** A moment at which the music becomes other than it was: a suggestion, ranked by confidence, never a fact. */
export interface Turn {
  /** Index of the bar that begins there. */
  readonly bar: number;
  readonly confidence: number;
}

/** Bars compared on either side. */
const AROUND = 4;
/** A turn is so many times the usual difference of the piece, and the largest of its surroundings. */
const STANDS_OUT = 1.6;
const WEIGHTS = { chroma: 1, colour: 1.2, rhythm: 1 };

/**
 * Where the four bars after differ most from the four before. Against a novelty by self-similarity (Foote 2000) this found
 * more changes of instrumentation on true bars.
 * @param bars first frame of each bar, in order.
 */
export function turnsOf(features: Features, bars: readonly number[]): Turn[] {
  if (bars.length < 2 * AROUND) return [];
  const rows = barRows(features, bars);
  const differences = bars.map((_, bar) => (bar < 2 || bar + 2 > bars.length ? 0 : difference(rows, bar)));
  const usual = differences.filter((value) => value > 0).toSorted((a, b) => a - b);
  const typical = usual[usual.length >> 1] ?? 0;
  return differences.flatMap((value, bar) => {
    const near = differences.slice(Math.max(0, bar - AROUND), bar + AROUND + 1);
    if (typical === 0 || value < STANDS_OUT * typical || value < Math.max(...near)) return [];
    return [{ bar, confidence: 1 - typical / value }];
  });
}

/** Distance between the means of the bars before and after. */
function difference(rows: readonly Float64Array[], bar: number): number {
  const [before, after] = [rows.slice(Math.max(0, bar - AROUND), bar), rows.slice(bar, bar + AROUND)];
  let sum = 0;
  for (let i = 0; i < rows[0]!.length; i++) {
    const mean = (part: readonly Float64Array[]): number => part.reduce((total, row) => total + row[i]!, 0) / part.length;
    sum += (mean(after) - mean(before)) ** 2;
  }
  return Math.sqrt(sum);
}

/** A row a bar: harmony, colour and rhythm, each column scaled to the spread it has in the piece. */
function barRows({ frames, chroma, colour, flux }: Features, bars: readonly number[]): Float64Array[] {
  const lastLength = bars.length > 1 ? bars.at(-1)! - bars.at(-2)! : frames;
  const rows = bars.map((from, bar) => {
    const to = Math.min(frames, bars[bar + 1] ?? from + lastLength);
    const harmony = means(chroma, PITCH_CLASSES, from, to);
    const length = Math.hypot(...harmony) + 1e-9;
    return Float64Array.from([...harmony.map((value) => value / length), ...means(colour, COLOUR_BANDS, from, to), ...means(flux, FLUX_BANDS, from, to)]);
  });
  const groups = [...Array<number>(PITCH_CLASSES).fill(WEIGHTS.chroma / PITCH_CLASSES), ...Array<number>(COLOUR_BANDS).fill(WEIGHTS.colour / COLOUR_BANDS), ...Array<number>(FLUX_BANDS).fill(WEIGHTS.rhythm / FLUX_BANDS)];
  groups.forEach((weight, i) => {
    const mean = rows.reduce((sum, row) => sum + row[i]!, 0) / rows.length;
    const spread = Math.sqrt(rows.reduce((sum, row) => sum + (row[i]! - mean) ** 2, 0) / rows.length) + 1e-6;
    for (const row of rows) row[i] = ((row[i]! - mean) / spread) * Math.sqrt(weight);
  });
  return rows;
}

function means(values: Float32Array, width: number, from: number, to: number): number[] {
  return Array.from({ length: width }, (_, i) => {
    let sum = 0;
    for (let frame = from; frame < to; frame++) sum += values[frame * width + i]!;
    return sum / Math.max(1, to - from);
  });
}
