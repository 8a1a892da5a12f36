import type { FitSlot } from './fit.ts';
import type { Reach } from './fit-reach.ts';

/*
 * The strength of landings alone, as a table of slots × frames: the most that can be had with slot after slot ending
 * where it does,
 *   most(i, f) = (what landing at f is worth) + max over lengths x of slot i of most(i − 1, f − x).
 * Nearly all of the time of a fit goes here, so all of it is whole numbers and nothing branches on them. The greatest of
 * every window of w cells is that of two: from the cell to the end of its block of w, and from the beginning of the next
 * block on, both kept as running maxima (M. van Herk, Pattern Recognition Letters 13, 1992; J. Gil, M. Werman, IEEE PAMI
 * 15, 1993; cited from memory). Which cell is the greatest cannot be foreseen, so a branch would be guessed wrong at every
 * third cell, and that costs more than everything else: with windows that branch the table took five times as long.
 */

/** The cells of one place between slots, from frame `first` on: `size` of them, at `offset` of the table's cells. */
export interface StrengthRow {
  readonly first: number;
  readonly size: number;
  readonly offset: number;
}

export interface StrengthTable {
  /** One a place between slots, 0 before the first. */
  readonly rows: readonly StrengthRow[];
  readonly cells: Int32Array;
}

/** Below every strength, and near enough to zero that differences are still whole numbers of 32 bits. */
const NOWHERE = -(2 ** 30);

/**
 * @param worth what landing at each frame is worth
 * @returns the most strength to every cell of the reach, what landing there is worth included
 */
export function strengthTable(slots: readonly FitSlot[], { first, last }: Reach, worth: Int32Array): StrengthTable {
  // The lengths that have to be looked at, and so how far the window of the next row looks past both ends of a row.
  const shortest = slots.map(({ min }, i) => Math.max(min, first[i + 1]! - last[i]!));
  const longest = slots.map(({ max }, i) => Math.min(max, last[i + 1]! - first[i]!));
  const rows: StrengthRow[] = [];
  let used = 0;
  let most = 0;
  for (let i = 0; i <= slots.length; i++) {
    const size = last[i]! - first[i]! + 1;
    const before = i < slots.length ? longest[i]! - (first[i + 1]! - first[i]!) : 0;
    const after = i < slots.length ? last[i + 1]! - shortest[i]! - last[i]! : 0;
    rows.push({ first: first[i]!, size, offset: used + before });
    used += before + size + after;
    if (i > 0) most = Math.max(most, size + longest[i - 1]! - shortest[i - 1]!);
  }
  const cells = new Int32Array(used).fill(NOWHERE);
  cells[rows[0]!.offset] = 0;
  const [upTo, from] = [new Int32Array(most), new Int32Array(most)];
  for (let i = 0; i < slots.length; i++) {
    const [row, next] = [rows[i]!, rows[i + 1]!];
    runningMaxima(cells, row.offset + next.first - longest[i]! - row.first, longest[i]! - shortest[i]! + 1, next.size, upTo, from);
    fill(cells, next, upTo.subarray(longest[i]! - shortest[i]!), from, worth.subarray(next.first), slots[i + 1]?.weight ?? 0);
  }
  return { rows, cells };
}

/** The running maxima of blocks of `width` cells, the first of which begins at `base`, as far as `size` windows reach: up to each cell, and from it on. */
function runningMaxima(cells: Int32Array, base: number, width: number, size: number, upTo: Int32Array, from: Int32Array): void {
  const length = size + width - 1;
  for (let block = 0; block < length; block += width) {
    const end = Math.min(block + width, length);
    let forward = NOWHERE;
    let backward = NOWHERE;
    for (let j = block, back = end - 1; j < end; j++, back--) {
      // The greater of two without a branch: the sign of their difference is all ones or all zeros.
      const here = cells[base + j]!;
      const rise = (here - forward) | 0;
      forward = (here - (rise & (rise >> 31))) | 0;
      upTo[j] = forward;
      const there = cells[base + back]!;
      const fall = (there - backward) | 0;
      backward = (there - (fall & (fall >> 31))) | 0;
      from[back] = backward;
    }
  }
}

/** Fills a row with the greater of both maxima of each window and what landing there is worth. */
function fill(cells: Int32Array, { offset, size }: StrengthRow, upTo: Int32Array, from: Int32Array, worth: Int32Array, weight: number): void {
  for (let k = 0; k < size; k++) {
    const here = from[k]!;
    const more = (upTo[k]! - here) | 0;
    cells[offset + k] = (here + (more & ~(more >> 31)) + Math.imul(weight, worth[k]!)) | 0;
  }
}

/** The most strength to a frame of a place. */
export function strengthAt({ rows, cells }: StrengthTable, place: number, frame: number): number {
  const { first, offset } = rows[place]!;
  return cells[offset + frame - first]!;
}
