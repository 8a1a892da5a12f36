// Setting right the clock of a camera. One known moment tells how far it is off; two tell besides how fast it runs away:
//   true = noted + offset + drift * (noted - first noted)
// Times are milliseconds since 1970 UTC.

/** What the camera's clock showed, and what it truly was. */
export interface Known {
  notedMs: number;
  trueMs: number;
}

export interface Correction {
  /** Added to what was noted at `fromMs`. */
  offsetMs: number;
  /** Further milliseconds for each one noted since. */
  drift: number;
  fromMs: number;
}

/** Closer moments tell nothing of drift: a second's error in reading either would be more than any clock drifts. */
export const APART_MS = 30 * 60_000;
/** A cheap quartz drifts by tens of millionths; what is beyond this is two wrong moments, not one bad clock. */
export const MOST_DRIFT = 0.001;

/**
 * The correction that makes the known moments right.
 * @returns words of what is wrong when they cannot be of one clock.
 */
export function correctionOf(known: readonly Known[]): Correction | 'none' | 'too-close' | 'drifts-too-much' {
  const [first, second] = [...known].sort((a, b) => a.notedMs - b.notedMs);
  if (!first) return 'none';
  const offsetMs = first.trueMs - first.notedMs;
  if (!second) return { offsetMs, drift: 0, fromMs: first.notedMs };
  const apart = second.notedMs - first.notedMs;
  if (apart < APART_MS) return 'too-close';
  const drift = (second.trueMs - second.notedMs - offsetMs) / apart;
  return Math.abs(drift) > MOST_DRIFT ? 'drifts-too-much' : { offsetMs, drift, fromMs: first.notedMs };
}

/** The true time of what a camera noted, to the millisecond. */
export function corrected(notedMs: number, { offsetMs, drift, fromMs }: Correction): number {
  return Math.round(notedMs + offsetMs + drift * (notedMs - fromMs));
}

const MINUTE_MS = 60_000;

/** The day on the clocks of the place. @param zone minutes east of UTC; UTC when nobody knows it. */
export function dayAt(ms: number, zone: number | null): string {
  return new Date(ms + (zone ?? 0) * MINUTE_MS).toISOString().slice(0, 10);
}
