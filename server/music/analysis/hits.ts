import { FLUX_BANDS, FRAME_RATE } from './features.ts';
import type { Features } from './features.ts';
import { localMeans } from './levels.ts';

/** A moment at which the sound sets in. */
export interface Hit {
  /** Seconds from the first sample. */
  readonly at: number;
  /** How far it stands out of the piece, 0..1. */
  readonly strength: number;
  /** How far it stands out of what is around it, 0..1. */
  readonly confidence: number;
}

/** A rise is seen before its frame's centre reaches it, by this much: measured on clicks at known samples. */
const LEAD_SECONDS = 0.005;
/** When a rise at this frame sounds, in seconds. */
export const secondsOf = (frame: number): number => frame / FRAME_RATE + LEAD_SECONDS;

/** A hit is the largest rise of this many frames before and after, and stands this far above the mean of the wider stretch. */
const ALONE = 3;
const BEFORE = 15;
const AFTER = 10;
const ABOVE = 0.35;
const WEAKEST = 0.12;

/** Onsets by peaks of the rise over all bands (after Böck, Krebs and Schedl 2012), those that can hardly be heard left out. */
export function hitsOf({ frames, flux }: Features): Hit[] {
  const rise = new Float64Array(frames);
  const relative = new Float64Array(frames);
  for (let band = 0; band < FLUX_BANDS; band++) {
    const local = localMeans(flux, band, frames);
    for (let frame = 0; frame < frames; frame++) {
      rise[frame]! += flux[frame * FLUX_BANDS + band]! / FLUX_BANDS;
      relative[frame]! += Math.log1p(flux[frame * FLUX_BANDS + band]! / local[frame]!) / FLUX_BANDS;
    }
  }
  const strong = quantile(rise.filter((value) => value > 0), 0.995);
  const hits: Hit[] = [];
  for (let frame = 1; frame < frames - 1; frame++) {
    const value = relative[frame]!;
    if (!(value > 0) || !isPeak(relative, frame)) continue;
    const above = value - mean(relative, frame - BEFORE, frame + AFTER + 1);
    const strength = Math.min(1, Math.max(rise[frame]!, rise[frame + 1]!) / strong);
    if (above < ABOVE || strength < WEAKEST) continue;
    hits.push({ at: secondsOf(frame + summit(relative, frame)), strength, confidence: 1 - Math.exp(-above / ABOVE / 2) });
  }
  return hits;
}

function isPeak(values: Float64Array, frame: number): boolean {
  for (let at = Math.max(0, frame - ALONE); at <= Math.min(values.length - 1, frame + ALONE); at++) {
    if (values[at]! > values[frame]! || (values[at] === values[frame] && at < frame)) return false;
  }
  return true;
}

/** Where between its neighbours a peak lies, −0.5 to 0.5: the summit of the parabola through the three. */
function summit(values: Float64Array, frame: number): number {
  const [a, b, c] = [values[frame - 1]!, values[frame]!, values[frame + 1]!];
  const bend = a - 2 * b + c;
  return bend < 0 ? Math.max(-0.5, Math.min(0.5, (a - c) / (2 * bend))) : 0;
}

function mean(values: Float64Array, from: number, to: number): number {
  const part = values.subarray(Math.max(0, from), Math.max(0, to));
  return part.length === 0 ? 0 : part.reduce((sum, value) => sum + value, 0) / part.length;
}

function quantile(values: Float64Array, share: number): number {
  const sorted = values.toSorted();
  return sorted.length === 0 ? 1 : sorted[Math.floor((sorted.length - 1) * share)]!;
}
