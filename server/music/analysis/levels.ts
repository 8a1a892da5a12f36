import { FLUX_BANDS, FRAME_RATE } from './features.ts';

/** A rise is weighed against the mean of the four seconds before and after, so that verse and chorus look alike. */
const AROUND_SECONDS = 4;
/** Never against less than this share of the mean of the whole, so that near-silence stays near-silence. */
const FLOOR_SHARE = 0.2;
/** Steps between the levels, in multiples of that mean. */
const STEPS = [0.08, 0.35, 0.8, 1.5, 2.6, 4.2, 7] as const;
export const LEVELS = STEPS.length + 1;

/** The rise of each band and frame as one of LEVELS levels. Row-major like the flux. */
export function levelsOf(flux: Float32Array): Uint8Array {
  const frames = flux.length / FLUX_BANDS;
  const levels = new Uint8Array(flux.length);
  for (let band = 0; band < FLUX_BANDS; band++) {
    const local = localMeans(flux, band, frames);
    for (let frame = 0; frame < frames; frame++) levels[frame * FLUX_BANDS + band] = levelOf(flux[frame * FLUX_BANDS + band]! / local[frame]!);
  }
  return levels;
}

function levelOf(ratio: number): number {
  let level = 0;
  while (level < STEPS.length && ratio >= STEPS[level]!) level++;
  return level;
}

/** For each frame what a rise of the band is weighed against; never 0. */
export function localMeans(flux: Float32Array, band: number, frames: number): Float64Array {
  const sums = new Float64Array(frames + 1);
  for (let frame = 0; frame < frames; frame++) sums[frame + 1] = sums[frame]! + flux[frame * FLUX_BANDS + band]!;
  const floor = Math.max(1e-9, (FLOOR_SHARE * sums[frames]!) / Math.max(1, frames));
  const reach = AROUND_SECONDS * FRAME_RATE;
  return Float64Array.from({ length: frames }, (_, frame) => {
    const from = Math.max(0, frame - reach);
    const to = Math.min(frames, frame + reach + 1);
    return Math.max(floor, (sums[to]! - sums[from]!) / (to - from));
  });
}
