// From a tap to the moment it means: what is heard was handed to the sound device a while ago, and every person taps a
// little before or after what they hear.

/** What stands between the position of the player and the tap, in milliseconds. */
export interface Lateness {
  /** From the player to the ear: base and output latency of the audio context (Web Audio API, 1.2.2). */
  readonly outputMs: number;
  /** By how much this person taps after the beat; negative for before, as most people do. */
  readonly ownMs: number;
}

/** The moment of the track that a tap means: never before its beginning. @param positionMs of the player when it was tapped */
export function momentOfTap(positionMs: number, { outputMs, ownMs }: Lateness): number {
  return Math.max(0, Math.round(positionMs - outputMs - ownMs));
}

/** The nearest of the moments (in order) if it is near enough, or the moment itself. */
export function snapped(atMs: number, moments: readonly number[], withinMs: number): number {
  let low = 0;
  let high = moments.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (moments[middle]! < atMs) low = middle + 1;
    else high = middle;
  }
  const near = [moments[low - 1], moments[low]].filter((at) => at !== undefined).sort((a, b) => Math.abs(a - atMs) - Math.abs(b - atMs))[0];
  return near !== undefined && Math.abs(near - atMs) <= withinMs ? near : atMs;
}

/**
 * By how much somebody taps after the clicks they hear: the median over taps of the distance to the nearest click, so
 * that a missed one changes nothing. Null with fewer than `atLeast` taps, or when they lie too far apart to mean anything.
 * @param taps and `clicks` on one clock, output latency already taken off the taps
 */
export function ownOffset(taps: readonly number[], clicks: readonly number[], { atLeast = 8, spreadMs = 60 } = {}): number | null {
  if (taps.length < atLeast || clicks.length === 0) return null;
  const distances = taps.map((tap) => clicks.map((click) => tap - click).reduce((a, b) => (Math.abs(b) < Math.abs(a) ? b : a))).sort((a, b) => a - b);
  const at = (share: number) => distances[Math.round(share * (distances.length - 1))]!;
  return at(0.75) - at(0.25) > spreadMs ? null : Math.round(at(0.5));
}
