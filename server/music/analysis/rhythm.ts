import type { Accents } from './accents.ts';
import { FLUX_BANDS } from './features.ts';

/** Positions in a beat that are compared; both thirds and quarters fall on one. */
const POSITIONS = 12;
export const LAGS = [1, 2, 3, 4, 6, 8] as const;

/**
 * How like itself the rhythm is after 1, 2, 3, 4, 6 and 8 beats, as a correlation per lag. The true beat repeats after 2 and 4,
 * or after 3 and 6; three halves of it do not.
 * @param beats frames.
 */
export function repetition(beats: readonly number[], accents: Accents): number[] {
  const width = POSITIONS * FLUX_BANDS;
  const count = Math.max(0, beats.length - 1);
  const rows = new Float64Array(count * width);
  for (let i = 0; i < count; i++) {
    const length = beats[i + 1]! - beats[i]!;
    for (let position = 0; position < POSITIONS; position++) {
      const from = Math.round(beats[i]! + (length * (position - 0.5)) / POSITIONS);
      const to = Math.round(beats[i]! + (length * (position + 0.5)) / POSITIONS);
      for (let band = 0; band < FLUX_BANDS; band++) rows[i * width + position * FLUX_BANDS + band] = accents.riseWithin(from, to, band);
    }
  }
  for (let band = 0; band < FLUX_BANDS; band++) {
    let mean = 0;
    for (let at = band; at < rows.length; at += FLUX_BANDS) mean += rows[at]! / (count * POSITIONS);
    for (let at = band; at < rows.length; at += FLUX_BANDS) rows[at]! -= mean;
  }
  return LAGS.map((lag) => {
    let [both, first, second] = [0, 1e-9, 1e-9];
    for (let at = 0; at + lag * width < rows.length; at++) {
      const [a, b] = [rows[at]!, rows[at + lag * width]!];
      both += a * b;
      first += a * a;
      second += b * b;
    }
    return both / Math.sqrt(first * second);
  });
}
