import type { FitPart, FitSlot } from './fit.ts';
import type { Reach } from './fit-reach.ts';
import { strengthAt, strengthTable } from './fit-strength.ts';
import { Cells, costAt, fillRow, kept, lengthBefore, type Next, type Row } from './fit-row.ts';

/*
 * The dynamic program of fit.ts with parts whose lengths are held, terms 1 and 2 at once, as a table of slots × frames.
 * With least(i, f) for the first i slots ending at frame f,
 *   least(i, f) = (what landing at f is worth) + min over lengths x of slot i of least(i − 1, f − x) + |x − planned|.
 * The minimum over x is two sliding windows, one for lengths up to the planned one and one from it on (fit-row.ts). Both
 * terms are whole numbers in one double: strength in thousandths, times more than all departure there can be.
 *
 * A part whose length is held asks where it began, which a cell does not know. So what is inside it is a table of its
 * own for every frame it can begin at, and it goes into the table around it as one step: from where it begins to every
 * frame it can end at.
 * That would be long, so most of it is not done. What is still to come costs at least as much as without any held part,
 * which a table from the end of the film tells for every cell (`restOf`). With a limit on the whole cost, a held part
 * need not begin where the cost so far and that least rest lie beyond the limit; when something comes out within the
 * limit, it is the best there is, and when nothing does, the limit is raised (`followHeld`).
 */

/** What a table is made of. */
export interface Ground {
  readonly slots: readonly FitSlot[];
  readonly reach: Reach;
  /** What landing at a frame is worth, in thousandths; nothing for most. */
  readonly worth: Int32Array;
  /** More than all departure there can be: what a thousandth of strength outweighs. */
  readonly outweigh: number;
}

/** The same, and where its rows take their cells from. */
interface Table extends Ground {
  readonly cells: Cells;
}

/** What is known of a cell's rest, and the cost beyond which it is not looked at. */
interface Bound {
  readonly least: (place: number, frame: number) => number;
  readonly limit: number;
}

/** A part whose length is held, with those inside it. */
interface Held extends FitPart {
  readonly inside: readonly Held[];
  /** What is known of it already, by the frame it begins at: its last row as if nothing had been spent before; null where it cannot begin. */
  readonly known: Map<number, Row | null>;
}

/** The parts as they stand in each other. */
function nested(parts: readonly FitPart[]): Held[] {
  const top: Held[] = [];
  const open: { part: FitPart; inside: Held[] }[] = [];
  for (const part of parts.toSorted((a, b) => a.from - b.from || b.to - a.to)) {
    while (open.length > 0 && open.at(-1)!.part.to <= part.from) open.pop();
    const inside: Held[] = [];
    (open.at(-1)?.inside ?? top).push({ ...part, inside, known: new Map() });
    open.push({ part, inside });
  }
  return top;
}

const FREE: Bound = { least: () => -Infinity, limit: Infinity };

/** The first limit above what no held part costs, and by what it is raised: in thousandths of strength; our own choice. */
const [FIRST_LIMIT, RAISE, LAST_LIMIT] = [32, 4, 2 ** 20];

/**
 * Where each slot ends at the least cost, with the lengths of parts held. The reach must be one that `reachOf` gave for
 * these slots and parts.
 * @param free the cost when none is held (fit-free.ts)
 */
export function followHeld(ground: Ground, parts: readonly FitPart[], free: number): number[] {
  const held = nested(parts);
  const least = restOf(ground);
  const table: Table = { ...ground, cells: new Cells() };
  for (let above = FIRST_LIMIT; above < LAST_LIMIT; above *= RAISE) {
    const found = best(table, held, { least, limit: free + above * ground.outweigh });
    if (found) return found;
  }
  return best(table, held, FREE)!;
}

/** The best within a limit; null where there is nothing within it. */
function best(ground: Table, held: readonly Held[], bound: Bound): number[] | null {
  const { slots } = ground;
  return ground.cells.borrow(() => {
    const rows = tableOf(ground, 0, slots.length, held, 0, bound)!;
    const last = rows[slots.length]!;
    const cost = costAt(last, last.first);
    if (cost > bound.limit || cost === Infinity) return null;
    const ends: number[] = new Array<number>(slots.length);
    trace(ground, rows, 0, slots.length, held, last.first, ends);
    return ends;
  });
}

/** What the way from a cell to the end of the film costs at least: by the strength to be had on it, seen from the end. */
function restOf({ slots, reach, worth, outweigh }: Ground): Bound['least'] {
  const count = slots.length;
  const total = reach.last[count]!;
  const turned = slots.map((_, i) => ({ ...slots[count - 1 - i]!, weight: slots[count - i]?.weight ?? 0 }));
  const turnedReach = { first: reach.last.map((frame) => total - frame).reverse(), last: reach.first.map((frame) => total - frame).reverse() };
  const table = strengthTable(turned, turnedReach, worth.slice().reverse());
  // What landing there is worth is in the cost so far already.
  return (place, frame) => ((place > 0 ? slots[place]!.weight * worth[frame]! : 0) - strengthAt(table, count - place, total - frame)) * outweigh;
}

/**
 * The rows of a stretch of slots that begins at frame `start`, by place counted from its first; null where it cannot
 * begin there. Places inside held parts have no row.
 */
function tableOf(ground: Table, from: number, to: number, held: readonly Held[], start: number, bound: Bound): (Row | undefined)[] | null {
  const span = spanOf(ground, from, to, start);
  if (!span) return null;
  const { slots, worth, outweigh, cells } = ground;
  let part = held[0]?.from === from ? held[0] : undefined;
  let partsLeft = held;
  const rowAt = (place: number): Row => {
    const slot = place === to || part ? undefined : slots[place];
    const next: Next = slot ? { slot, first: span.first[place + 1 - from]!, last: span.last[place + 1 - from]! } : null;
    return cells.row(span.first[place - from]!, span.last[place - from]!, next);
  };
  let before = rowAt(from);
  before.cells[before.offset] = 0;
  const rows: (Row | undefined)[] = [before];
  for (let at = from; at < to; ) {
    const over = part;
    const end = over ? over.to : at + 1;
    if (over) partsLeft = partsLeft.slice(1);
    part = partsLeft[0]?.from === end ? partsLeft[0] : undefined;
    const row = rowAt(end);
    if (!over) fillRow(slots[at]!, before, row, worth, outweigh * (slots[end]?.weight ?? 0));
    before = over ? afterPart(ground, over, before, row, bound) : row;
    rows[end - from] = before;
    at = end;
  }
  return rows;
}

/** The frames every place of a stretch can have that begins at one frame; null for none. */
function spanOf({ slots, reach }: Ground, from: number, to: number, start: number): { first: ArrayLike<number>; last: ArrayLike<number> } | null {
  if (from === 0 && to === slots.length) return reach;
  const [first, last] = [[start], [start]];
  for (let i = from, low = start, high = start; i < to; i++) {
    low = Math.max(reach.first[i + 1]!, low + slots[i]!.min);
    high = Math.min(reach.last[i + 1]!, high + slots[i]!.max);
    if (low > high) return null;
    first.push(low);
    last.push(high);
  }
  return { first, last };
}

/** Fills the row after a held part: the best of all frames at which it can begin. */
function afterPart(ground: Table, part: Held, before: Row, row: Row, bound: Bound): Row {
  const { cells, offset, first, size } = row;
  const began = new Int32Array(size);
  for (let i = 0; i < before.size; i++) {
    const start = before.first + i;
    const cost = costAt(before, start);
    if (cost === Infinity || cost + bound.least(part.from, start) > bound.limit) continue;
    const inside = lastRow(ground, part, start);
    if (!inside) continue;
    const [least, most] = [Math.max(first, inside.first, start + part.min), Math.min(first + size - 1, inside.first + inside.size - 1, start + part.max)];
    for (let f = least; f <= most; f++) {
      const value = cost + costAt(inside, f);
      if (value >= cells[f - first + offset]!) continue;
      cells[f - first + offset] = value;
      began[f - first] = start;
    }
  }
  return { ...row, began };
}

/** The last row of a held part that begins at a frame. A part in a part is asked for the same frame again and again. */
function lastRow(ground: Table, { from, to, inside, known }: Held, start: number): Row | null {
  const before = known.get(start);
  if (before !== undefined) return before;
  const row = ground.cells.borrow(() => {
    const last = tableOf(ground, from, to, inside, start, FREE)?.[to - from];
    return last ? kept(last) : null;
  });
  known.set(start, row);
  return row;
}

/** Writes where each slot of a stretch ends, given where the last one does. */
function trace(ground: Table, rows: readonly (Row | undefined)[], from: number, to: number, held: readonly Held[], end: number, ends: number[]): void {
  let f = end;
  for (let at = to; at > from; ) {
    const row = rows[at - from]!;
    if (row.began) {
      const part = held.find((one) => one.to === at)!;
      const start = row.began[f - row.first]!;
      trace(ground, tableOf(ground, part.from, part.to, part.inside, start, FREE)!, part.from, part.to, part.inside, f, ends);
      [at, f] = [part.from, start];
    } else {
      const before = rows[at - 1 - from]!;
      ends[at - 1] = f;
      f -= lengthBefore(ground.slots[at - 1]!, before, f);
      at -= 1;
    }
  }
}
