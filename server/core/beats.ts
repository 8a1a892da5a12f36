// Beats at hand: where an analysis counted half or double, or off the beat, one step sets it right.

/** A beat as it is marked, in milliseconds of its track. */
export interface Beat {
  readonly id: string;
  readonly atMs: number;
  /** 1 is the first of a bar. */
  readonly inBar: number | null;
}

/** What a change of beats takes away and adds. */
export interface BeatChange {
  readonly remove: string[];
  readonly add: { atMs: number; inBar: number | null }[];
}

const between = (a: Beat, b: Beat): number => Math.round((a.atMs + b.atMs) / 2);

/** Twice as many: one more half way between every two. @param beats in order of time */
export function doubled(beats: readonly Beat[]): BeatChange {
  return { remove: [], add: beats.slice(1).map((beat, n) => ({ atMs: between(beats[n]!, beat), inBar: null })) };
}

/** Half as many: every other goes, and of the two ways to count the one that keeps more first beats of bars stays. */
export function halved(beats: readonly Beat[]): BeatChange {
  const firsts = [0, 1].map((phase) => beats.filter(({ inBar }, n) => n % 2 === phase && inBar === 1).length);
  const goes = firsts[1]! > firsts[0]! ? 0 : 1;
  return { remove: beats.filter((_, n) => n % 2 === goes).map(({ id }) => id), add: [] };
}

/** Half a beat later, each; the last goes by the distance to the one before it, and not past the end of the track. */
export function shiftedByHalf(beats: readonly Beat[], lengthMs: number): BeatChange {
  if (beats.length < 2) return { remove: [], add: [] };
  const add = beats.slice(1).map((beat, n) => ({ atMs: between(beats[n]!, beat), inBar: beats[n]!.inBar }));
  const [before, last] = beats.slice(-2) as [Beat, Beat];
  const end = last.atMs + Math.round((last.atMs - before.atMs) / 2);
  if (end < lengthMs) add.push({ atMs: end, inBar: last.inBar });
  return { remove: beats.map(({ id }) => id), add };
}
