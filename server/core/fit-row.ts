import type { FitSlot } from './fit.ts';

/*
 * One row of the table of fit-table.ts, and the step from a row to the next by one slot. This is where a fit spends its
 * time, so a row has empty cells on both sides, as far as the next row looks into it: the step then asks nothing about
 * where the row ends.
 */

/** The cells of one place between slots: what it costs to be there, from frame `first` on. */
export interface Row {
  readonly first: number;
  readonly size: number;
  /** Holds `size` cells from `offset` on, with empty ones on both sides. Empty ones, and those with no way to them, hold Infinity. */
  readonly cells: Float64Array;
  readonly offset: number;
  /** After a held part: where it began, for each of the `size` cells. */
  readonly began?: Int32Array;
}

/** The slot that comes after a row, and the frames at which it may end; null where none does, or a held part. */
export type Next = { readonly slot: FitSlot; readonly first: number; readonly last: number } | null;

/** Beyond every cell, and small enough that engines keep it as a whole number. */
const NOWHERE = 2 ** 30 - 1;

const CHUNK = 2 ** 16;

/** Where rows take their cells from: many small arrays of their own cost more than what is worked out in them. */
export class Cells {
  #chunk = new Float64Array(CHUNK);
  #used = 0;

  /** A row of empty cells from frame `first` to `last`. */
  row(first: number, last: number, next: Next): Row {
    const size = last - first + 1;
    const before = next ? Math.max(0, next.slot.planned - (next.first - first)) : 0;
    const after = next ? Math.max(0, next.last - next.slot.planned - last) : 0;
    const from = this.#used;
    const to = from + before + size + after;
    if (to > this.#chunk.length) {
      this.#chunk = new Float64Array(Math.max(CHUNK, to - from));
      this.#used = 0;
      return this.row(first, last, next);
    }
    this.#used = to;
    this.#chunk.fill(Infinity, from, to);
    return { first, size, offset: from + before, cells: this.#chunk };
  }

  /** Works something out and gives the cells of its rows back; a row that is to stay must be copied by `kept`. */
  borrow<T>(work: () => T): T {
    const [chunk, used] = [this.#chunk, this.#used];
    const result = work();
    [this.#chunk, this.#used] = [chunk, used];
    return result;
  }
}

/** A row with cells of its own, for good. */
export const kept = (row: Row): Row => ({ ...row, cells: row.cells.slice(row.offset, row.offset + row.size), offset: 0 });

/** What it costs to be at a frame, which must be one of the row's. */
export const costAt = ({ first, offset, cells }: Row, frame: number): number => cells[frame - first + offset]!;

/**
 * Fills a row from the one before it. Of the lengths up to the planned one, and of those from it on, the best place in
 * the row before stays the best from one cell to the next, one frame of departure farther away, unless the place that
 * comes into reach is as good; only when it falls out at the far end are the places in reach looked through again.
 * @param worth what landing at a frame is worth, `weight` what that is multiplied by
 */
export function fillRow({ min, max, planned }: FitSlot, before: Row, row: Row, worth: Int32Array, weight: number): void {
  const from = before.cells;
  const begin = before.offset;
  const end = begin + before.size - 1;
  const { cells, offset, size, first } = row;
  // Where a slot of its planned length began that ends at the row's first cell.
  const origin = first - planned - before.first + begin;

  let room = max - planned;
  let place = bestIn(from, Math.max(begin, origin - room), Math.min(end, origin), origin);
  let least = place === NOWHERE ? Infinity : from[place]! + origin - place - 1;
  for (let k = 0, at = origin; k < size; k++, at++) {
    const here = from[at]!;
    least += 1;
    if (here <= least) {
      least = here;
      place = at;
    } else if (at - place > room) {
      least = Infinity;
      for (let j = Math.min(at, end), stop = Math.max(at - room, begin); j >= stop; j--) {
        const value = from[j]! + (at - j);
        if (value >= least) continue;
        least = value;
        place = j;
      }
    }
    cells[offset + k] = least;
  }

  room = planned - min;
  place = bestIn(from, Math.max(begin, origin + size - 1), Math.min(end, origin + size - 1 + room), origin + size - 1);
  least = place === NOWHERE ? Infinity : from[place]! + place - (origin + size - 1) - 1;
  for (let k = size - 1, at = origin + k; k >= 0; k--, at--) {
    const here = from[at]!;
    least += 1;
    if (here <= least) {
      least = here;
      place = at;
    } else if (place - at > room) {
      least = Infinity;
      for (let j = Math.max(at, begin), stop = Math.min(at + room, end); j <= stop; j++) {
        const value = from[j]! + (j - at);
        if (value >= least) continue;
        least = value;
        place = j;
      }
    }
    const longer = cells[offset + k]!;
    cells[offset + k] = (least < longer ? least : longer) - weight * worth[first + k]!;
  }
}

/** The place from `first` to `last` that is best seen from `at`; NOWHERE where none can be begun from. */
function bestIn(from: Float64Array, first: number, last: number, at: number): number {
  let [best, least] = [NOWHERE, Infinity];
  for (let j = first; j <= last; j++) {
    const value = from[j]! + Math.abs(at - j);
    if (value < least) [best, least] = [j, value];
  }
  return best;
}

/** The length by which a frame was reached: the best step back into the row before. */
export function lengthBefore({ min, max, planned }: FitSlot, before: Row, frame: number): number {
  const at = frame - before.first;
  let [best, least] = [min, Infinity];
  for (let x = Math.max(min, at - before.size + 1); x <= Math.min(max, at); x++) {
    const value = before.cells[before.offset + at - x]! + Math.abs(x - planned);
    if (value < least) [best, least] = [x, value];
  }
  return best;
}
