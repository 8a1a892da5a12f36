import type { LineBudget } from './budget.ts';
import type { Line, OutlineRow } from './outline.ts';

/*
 * Fitted lengths: what a fit to music settled, kept on the leaves of the outline beside their wishes. The wish stays what
 * a person asked for, so that a fit destroys no range and can be worked out anew from the same wishes.
 *
 * They hold all together or not at all: as long as every leaf has one, they sum to the running time, and each lies in the
 * room that the wishes leave (`roomOf`), which is where a fit chooses from. So a line that is added or removed, another
 * running time, or a wish they do not keep gives the budget back its say, and taking that back gives it to the fit
 * again: nobody has to clear anything, and no length on the page is one that the outline as it stands would not allow.
 */

/** Anything from `min` to `max` frames. */
export interface Room {
  readonly min: number;
  readonly max: number;
}

/** An open length may bend by a third of its budget, a share by a tenth of what it comes to: our own choice. */
const OPEN_BENDS = 3;
const SHARE_BENDS = 10;

/**
 * How far a fit may move the length of each line. A fixed length stays, a range is kept; a share may bend by a tenth of
 * what it comes to, and a slot that asks for nothing by a third of its budget. A part that asks for nothing is as long
 * as what is inside it, so it has no entry. Where wishes do not add up, what the budget made of them is within the room too.
 * @param wished what each line gets by the wishes alone
 */
export function roomOf(lines: readonly Line<OutlineRow>[], wished: ReadonlyMap<string, LineBudget>): Map<string, Room> {
  const rooms = new Map<string, Room>();
  for (const { row, children } of lines) {
    const { frames, asked } = wished.get(row.id)!;
    if (!asked && children.length > 0) continue;
    const { min, max } = asked ?? { min: frames, max: frames };
    const bends = asked ? (row.wish.kind === 'share' ? SHARE_BENDS : Infinity) : OPEN_BENDS;
    rooms.set(row.id, { min: Math.max(1, Math.min(frames, min - Math.floor(min / bends))), max: Math.max(frames, max + Math.floor(max / bends)) });
  }
  return rooms;
}

/**
 * The lengths of all lines by the fit, parts as the sum of what is inside them; null where it does not hold.
 * @param total the running time, in frames
 */
export function fittedLengths(lines: readonly Line<OutlineRow>[], wished: ReadonlyMap<string, LineBudget>, total: number): Map<string, number> | null {
  if (!lines.some(({ row, children }) => children.length === 0 && row.fitted !== null)) return null;
  const lengths = new Map<string, number>();
  for (const { row, children } of lines.toReversed()) {
    const length = children.length > 0 ? sumOf(children, (child) => lengths.get(child.row.id)!) : row.fitted;
    if (length === null) return null;
    lengths.set(row.id, length);
  }
  if (sumOf(lines.filter(({ depth }) => depth === 0), ({ row }) => lengths.get(row.id)!) !== total) return null;
  for (const [id, { min, max }] of roomOf(lines, wished)) if (lengths.get(id)! < min || lengths.get(id)! > max) return null;
  return lengths;
}

const sumOf = <T>(list: readonly T[], of: (one: T) => number): number => list.reduce((sum, one) => sum + of(one), 0);
