import { Cells, fillRow, lengthBefore, type Row } from './fit-row.ts';
import type { FitSlot } from './fit.ts';
import type { Reach } from './fit-reach.ts';
import { strengthAt, strengthTable, type StrengthTable } from './fit-strength.ts';

/*
 * The best by terms 1 and 2 of fit.ts with no part held. Term 1 alone is one table (fit-strength.ts). Term 2 is then
 * looked for only among the ways that have all the strength there is: from the end of the film back, place by place, the
 * cells on such ways, each with the least departure from it on. A way goes on from a cell to one before it where what the
 * one before has is what the cell has without its own landing. No cell before can have more, so the least of
 *   (what the cell has without its own landing) × outweigh + (departure from it on)
 * over the lengths of the slot finds the ways and the departure at once: two windows, as in fit-row.ts, turned round.
 */

/** Where each slot ends, the strength in thousandths, and the departure in frames. */
export interface FreeFit {
  readonly ends: number[];
  readonly strength: number;
  readonly departure: number;
}

/**
 * @param reach as `reachOf` gave it
 * @param worth what landing at a frame is worth, in thousandths
 * @param outweigh more than all departure there can be
 */
export function followFree(slots: readonly FitSlot[], reach: Reach, worth: Int32Array, outweigh: number): FreeFit {
  const table = strengthTable(slots, reach, worth);
  const count = slots.length;
  const total = reach.last[count]!;
  const strength = strengthAt(table, count, total);
  const ways: Row[] = [];
  const cells = new Cells();
  // Rows count frames from the end of the film, so that going back is going on.
  const before = (place: number, { first, size }: Pick<Row, 'first' | 'size'>) => {
    const slot = slots[place - 1]!;
    return { slot, first: Math.max(total - reach.last[place - 1]!, first + slot.min), last: Math.min(total - reach.first[place - 1]!, first + size - 1 + slot.max) };
  };
  const end = cells.row(0, 0, before(count, { first: 0, size: 1 }));
  end.cells[end.offset] = strength * outweigh;
  ways[count] = end;
  for (let place = count - 1; place >= 0; place--) {
    const span = before(place + 1, ways[place + 1]!);
    const row = cells.row(span.first, span.last, place > 0 ? before(place, { first: span.first, size: span.last - span.first + 1 }) : null);
    fillRow(slots[place]!, ways[place + 1]!, row, worth, 0);
    ways[place] = waysOf(row, table, place, total, place > 0 ? slots[place]!.weight : 0, worth, outweigh);
  }
  const ends: number[] = [];
  for (let place = 0, frame = 0; place < count; place++) {
    frame += lengthBefore(slots[place]!, ways[place + 1]!, total - frame);
    ends.push(frame);
  }
  return { ends, strength, departure: ways[0]!.cells[ways[0]!.offset]! };
}

/**
 * Empties the cells that no way with all the strength goes through, and takes what landing there is worth off the others.
 * @returns the row from the first of these to the last
 */
function waysOf(row: Row, table: StrengthTable, place: number, total: number, weight: number, worth: Int32Array, outweigh: number): Row {
  const { cells, offset, size, first } = row;
  let [from, to] = [size, 0];
  for (let k = 0; k < size; k++) {
    const frame = total - first - k;
    const most = strengthAt(table, place, frame);
    const departure = cells[offset + k]! - most * outweigh;
    if (departure >= outweigh) cells[offset + k] = Infinity;
    else {
      cells[offset + k] = (most - weight * worth[frame]!) * outweigh + departure;
      from = Math.min(from, k);
      to = k;
    }
  }
  return { ...row, first: first + from, size: to - from + 1, offset: offset + from };
}
