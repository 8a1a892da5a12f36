import { followFree } from './fit-free.ts';
import { reachOf, type NoFit } from './fit-reach.ts';
import { followHeld, type Ground } from './fit-table.ts';

/*
 * Fit: lengths of slots settled so that changes land on marks of the music.
 *
 * Given are the slots in order, each with the length planned for it and the range it may have; parts, which are runs of
 * slots, with the range their sum may have; the running time; the marks as frames with their strength; and ties: changes
 * that must stand at a certain frame. A change is the beginning of a slot; it has a weight, so that the beginning of a
 * sequence counts for more than that of a shot. Among all whole lengths within the ranges that sum to the running time
 * and keep every part and tie, the result is the least by
 *   1. missed strength: the sum over changes of weight × strength of the mark it lands on is the greatest there is;
 *   2. departure: the sum of |length − planned|, in frames, is the least with that;
 *   3. with the same landings, the sum of (length − planned)² / planned is the least, so that what has to give gives in
 *      proportion. (The landings themselves are chosen by 1 and 2 alone; a part that would break by this keeps the two
 *      ends that 1 and 2 gave it.)
 *
 * 1 and 2 are found by dynamic programming over slots × frames. Parts make it dearer (fit-table.ts), so it first runs
 * without any, term 1 before term 2 (fit-free.ts); what comes out is
 * the best of all ways, and when it keeps the parts, it is the best of those that keep them. Otherwise the parts it
 * breaks are held from then on, and it runs again; as one more is held each time, that ends.
 * 3 is separable and convex, and between two landings only the sum is given, so frames moved one by one to where they
 * cost least are optimal, as in division.ts. It keeps 2: departures within such a stretch all go one way.
 */

/** A slot: at least `min`, at most `max` frames, `planned` between them; `weight`, a whole number, is that of the change at its beginning. */
export interface FitSlot {
  readonly min: number;
  readonly max: number;
  readonly planned: number;
  readonly weight: number;
}

/** A part: the slots from `from` up to but not including `to`, by their place in the list, sum to `min` to `max` frames. Parts lie in each other or apart. */
export interface FitPart {
  readonly from: number;
  readonly to: number;
  readonly min: number;
  readonly max: number;
}

/** A mark at a frame of the film; strength is from 0 to 1. */
export interface FitMark {
  readonly frame: number;
  readonly strength: number;
}

/** The beginning of a slot (by its place in the list) bound to a frame. */
export interface FitTie {
  readonly slot: number;
  readonly frame: number;
}

export interface FitResult {
  /** One a slot, in frames. */
  readonly lengths: readonly number[];
  /** One a slot: the strength of the mark its beginning lands on, or null. The film's own beginning counts for nothing. */
  readonly landed: readonly (number | null)[];
  /** Sum of weight × strength of the landings, in thousandths. */
  readonly strength: number;
  /** Sum of |length − planned|, in frames. */
  readonly departure: number;
}

const THOUSANDTHS = 1000;
/** So that all strength there can be, in thousandths, is a whole number of 30 bits. */
const MOST_WEIGHT = 500_000;

/**
 * The best lengths by the cost above, or where none can be.
 * @param total the running time, in frames
 * @throws RangeError for slots whose numbers are not whole, or not 1 ≤ min ≤ planned ≤ max, or whose weights sum to more than 500,000
 */
export function fit(slots: readonly FitSlot[], total: number, marks: readonly FitMark[], ties: readonly FitTie[] = [], parts: readonly FitPart[] = []): FitResult | NoFit {
  for (const { min, max, planned } of slots)
    if (![min, max, planned].every(Number.isSafeInteger) || min < 1 || planned < min || max < planned) throw new RangeError(`A slot has 1 ≤ min ≤ planned ≤ max frames; got ${min}, ${planned}, ${max}.`);
  if (!slots.every(({ weight }) => Number.isSafeInteger(weight) && weight >= 0) || slots.reduce((sum, { weight }) => sum + weight, 0) > MOST_WEIGHT) throw new RangeError(`Weights are whole numbers that sum to ${MOST_WEIGHT} at most.`);
  const reach = reachOf(slots, total, ties, parts);
  if ('noFitAt' in reach) return reach;
  const worth = new Int32Array(total + 1);
  for (const { frame, strength } of marks)
    if (frame > 0 && frame < total) worth[frame] = Math.max(worth[frame]!, Math.round(strength * THOUSANDTHS));
  // No slot departs by more than this, so a thousandth of strength outweighs all departure.
  const outweigh = slots.reduce((sum, { min, max, planned }, i) => sum + Math.max(planned, Math.min(max, reach.last[i + 1]!)) - min, 1);
  const ends = followAll({ slots, reach, worth, outweigh }, parts);
  const starts = [0, ...ends.slice(0, -1)];
  const held = new Set([...ties.map(({ slot }) => slot), ...starts.flatMap((frame, i) => (worth[frame]! > 0 ? [i] : []))]);
  const lengths = evenedAll(slots, starts, ends, held, parts);
  return {
    lengths,
    landed: starts.map((frame) => (worth[frame]! > 0 ? worth[frame]! / THOUSANDTHS : null)),
    strength: starts.reduce((sum, frame, i) => sum + worth[frame]! * slots[i]!.weight, 0),
    departure: lengths.reduce((sum, length, i) => sum + Math.abs(length - slots[i]!.planned), 0),
  };
}

/** Where each slot ends: parts are held only once they break. */
function followAll(ground: Ground, parts: readonly FitPart[]): number[] {
  const held = new Set<FitPart>();
  const free = followFree(ground.slots, ground.reach, ground.worth, ground.outweigh);
  const cost = free.departure - free.strength * ground.outweigh;
  for (;;) {
    const ends = held.size === 0 ? free.ends : followHeld(ground, [...held], cost);
    const broken = parts.filter(({ from, to, min, max }) => !within((ends[to - 1] ?? 0) - (ends[from - 1] ?? 0), min, max));
    if (broken.length === 0) return ends;
    for (const part of broken) held.add(part);
  }
}

const within = (value: number, min: number, max: number): boolean => value >= min && value <= max;

/** The same landings, with the departure between them spread by 3; ends of parts that this would break are held as well. */
function evenedAll(slots: readonly FitSlot[], starts: readonly number[], ends: readonly number[], held: Set<number>, parts: readonly FitPart[]): number[] {
  for (;;) {
    const lengths = evened(slots, starts, ends, held);
    const broken = parts.filter(({ from, to, min, max }) => !within(lengths.slice(from, to).reduce((sum, length) => sum + length, 0), min, max));
    if (broken.length === 0) return lengths;
    for (const { from, to } of broken) held.add(from).add(to);
  }
}

function evened(slots: readonly FitSlot[], starts: readonly number[], ends: readonly number[], held: ReadonlySet<number>): number[] {
  const lengths: number[] = [];
  let stretch = 0;
  for (let i = 0; i < slots.length; i++) {
    if (i < slots.length - 1 && !held.has(i + 1)) continue;
    lengths.push(...spread(slots.slice(stretch, i + 1), ends[i]! - starts[stretch]!));
    stretch = i + 1;
  }
  return lengths;
}

function spread(slots: readonly FitSlot[], whole: number): number[] {
  const lengths = slots.map(({ planned }) => planned);
  let left = whole - lengths.reduce((sum, length) => sum + length, 0);
  const step = Math.sign(left);
  /** What one frame more of departure costs a slot, in term 3. */
  const cost = (i: number): number => {
    const { min, max, planned } = slots[i]!;
    const next = lengths[i]! + step;
    return next < min || next > max ? Infinity : (2 * Math.abs(lengths[i]! - planned) + 1) / planned;
  };
  for (; left !== 0; left -= step) {
    let best = 0;
    for (let i = 1; i < slots.length; i++) if (cost(i) < cost(best)) best = i;
    lengths[best]! += step;
  }
  return lengths;
}
