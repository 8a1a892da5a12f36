import type { Budget } from './budget.ts';
import { fit, type FitMark, type FitPart, type FitSlot, type FitTie } from './fit.ts';
import { reachOf } from './fit-reach.ts';
import { roomOf } from './fitted.ts';
import type { Line, OutlineRow } from './outline.ts';

/*
 * What a fit has to settle, from an outline and its budget, and its answer. All of it is plain data, because it travels
 * to a worker and back.
 */

/** A line bound to a moment of the music. */
export interface LineTie {
  readonly itemId: string;
  readonly frame: number;
}

export interface FitProblem {
  /** The leaves of the outline in order, by their place in which everything else speaks of them. */
  readonly ids: readonly string[];
  readonly slots: readonly FitSlot[];
  readonly parts: readonly FitPart[];
  readonly total: number;
  readonly marks: readonly FitMark[];
  /** The firmest first: ties of sequences before those of what is inside, earlier ones before later ones. */
  readonly ties: readonly (FitTie & { readonly itemId: string })[];
}

/** A tie that cannot be kept besides the firmer ones: its line can begin from `first` to `last`, in frames. */
export interface Unmet {
  readonly itemId: string;
  readonly frame: number;
  readonly first: number;
  readonly last: number;
}

export interface FitAnswer {
  /** One a leaf, in frames. */
  readonly lengths: readonly number[];
  readonly unmet: readonly Unmet[];
}

/** What the beginning of a line counts for, by its depth: a sequence, a subsequence, anything deeper. Our own choice. */
const WEIGHTS = [4, 2, 1];

/**
 * The problem of an outline; null where the running time is too short for every line to have a frame.
 * Lengths are planned as the wishes alone give them, so that an earlier fit has no say in the next.
 */
export function fitProblemOf(lines: readonly Line<OutlineRow>[], budget: Budget, total: number, marks: readonly FitMark[], ties: readonly LineTie[]): FitProblem | null {
  const rooms = roomOf(lines, budget.wished);
  const leaves = lines.filter(({ children }) => children.length === 0);
  if (leaves.length === 0 || leaves.some(({ row }) => budget.wished.get(row.id)!.frames < 1)) return null;
  const places = new Map(leaves.map((line, at) => [line, at]));
  /** The place of the first leaf of each line, and the one after its last. */
  const spans = new Map<string, { from: number; to: number }>();
  for (const line of lines.toReversed()) {
    const at = places.get(line);
    const [first, last] = [line.children[0], line.children.at(-1)];
    spans.set(line.row.id, at === undefined ? { from: spans.get(first!.row.id)!.from, to: spans.get(last!.row.id)!.to } : { from: at, to: at + 1 });
  }
  const slots = leaves.map((line) => ({ ...rooms.get(line.row.id)!, planned: budget.wished.get(line.row.id)!.frames, weight: weightOf(outermostAt(line).depth) }));
  const parts = lines.flatMap(({ row, children }) => (children.length > 0 && rooms.has(row.id) ? [{ ...spans.get(row.id)!, ...rooms.get(row.id)! }] : []));
  const depths = new Map(lines.map(({ row, depth }) => [row.id, depth]));
  const known = ties.filter(({ itemId }) => spans.has(itemId)).map(({ itemId, frame }) => ({ itemId, frame, slot: spans.get(itemId)!.from }));
  known.sort((a, b) => Math.min(2, depths.get(a.itemId)!) - Math.min(2, depths.get(b.itemId)!) || a.slot - b.slot);
  return { ids: leaves.map(({ row }) => row.id), slots, parts, total, marks, ties: known };
}

const weightOf = (depth: number): number => WEIGHTS[Math.min(depth, WEIGHTS.length - 1)]!;

/** The outermost line that begins with a leaf. */
function outermostAt(leaf: Line<OutlineRow>): Line<OutlineRow> {
  let line = leaf;
  while (line.parent?.children[0] === line) line = line.parent;
  return line;
}

/**
 * Settles the lengths. Ties are kept in their order as long as they can be with those before; what cannot is told, with
 * where its line could begin, and has no further say.
 */
export function solveFit({ slots, parts, total, marks, ties }: FitProblem): FitAnswer {
  const kept: FitTie[] = [];
  const unmet: Unmet[] = [];
  for (const { itemId, slot, frame } of ties) {
    const reach = reachOf(slots, total, kept, parts);
    if ('noFitAt' in reach) throw new Error(`Lengths that a budget gave cannot be (at ${reach.noFitAt}).`);
    const [first, last] = [reach.first[slot]!, reach.last[slot]!];
    if (frame >= first && frame <= last) kept.push({ slot, frame });
    else unmet.push({ itemId, frame, first, last });
  }
  const result = fit(slots, total, marks, kept, parts);
  if ('noFitAt' in result) throw new Error(`Lengths that a budget gave cannot be (at ${result.noFitAt}).`);
  return { lengths: result.lengths, unmet };
}
