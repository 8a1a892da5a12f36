// The stretch of a track that is on screen, and how it moves: from the whole track to single samples.

/** `fromMs` is at the left edge; both may be fractions. */
export interface WaveView {
  readonly fromMs: number;
  readonly msPerPx: number;
}

/** Closest: 24 pixels a sample at 48 kHz. */
const CLOSEST_MS_PER_PX = 1 / 48 / 24;

/** The whole track. */
export const wholeView = (lengthMs: number, widthPx: number): WaveView => ({ fromMs: 0, msPerPx: lengthMs / Math.max(1, widthPx) });

/** A view that shows nothing outside the track, and not more than all of it. */
export function keptInside({ fromMs, msPerPx }: WaveView, lengthMs: number, widthPx: number): WaveView {
  const scale = Math.min(lengthMs / Math.max(1, widthPx), Math.max(CLOSEST_MS_PER_PX, msPerPx));
  return { msPerPx: scale, fromMs: Math.max(0, Math.min(lengthMs - scale * widthPx, fromMs)) };
}

/** Closer by a factor (further away below 1), so that the moment under `atPx` stays where it is. */
export function zoomed(view: WaveView, factor: number, atPx: number, lengthMs: number, widthPx: number): WaveView {
  const whole = lengthMs / Math.max(1, widthPx);
  const msPerPx = Math.min(whole, Math.max(CLOSEST_MS_PER_PX, view.msPerPx / factor));
  return keptInside({ msPerPx, fromMs: view.fromMs + atPx * (view.msPerPx - msPerPx) }, lengthMs, widthPx);
}

/** Moved by pixels. */
export const moved = (view: WaveView, byPx: number, lengthMs: number, widthPx: number): WaveView => keptInside({ ...view, fromMs: view.fromMs + byPx * view.msPerPx }, lengthMs, widthPx);

/** The view as it is, or moved so that a moment is well inside it. */
export function showing(view: WaveView, atMs: number, lengthMs: number, widthPx: number): WaveView {
  const px = (atMs - view.fromMs) / view.msPerPx;
  return px >= 0 && px <= widthPx * 0.95 ? view : keptInside({ ...view, fromMs: atMs - view.msPerPx * widthPx * 0.1 }, lengthMs, widthPx);
}

export const pxOf = (view: WaveView, atMs: number): number => (atMs - view.fromMs) / view.msPerPx;
export const msAt = (view: WaveView, px: number): number => view.fromMs + px * view.msPerPx;

/**
 * The level of a wave to draw: the coarsest that still has at least one point a pixel; 0 when there are fewer samples.
 * @param rate samples a second; `factor`: points of a level that make one of the next; `levels`: how many there are
 */
export function levelFor(msPerPx: number, { rate, factor, levels }: { rate: number; factor: number; levels: number }): number {
  const samplesPerPx = (msPerPx * rate) / 1000;
  return Math.max(0, Math.min(levels - 1, Math.floor(Math.log(samplesPerPx) / Math.log(factor) + 1e-9)));
}
