import type { Budget } from './budget.ts';
import type { Line, OutlineRow } from './outline.ts';
import { WHOLE } from './wish.ts';

/*
 * Plain remarks on the shape of a film, from the outline and its budget. None is an error: each can be settled or put
 * away. A remark's key names the facts it rests on, so one that was put away comes back when they change.
 *
 * Common practice, no source: a closing of 8 % of the running time; no shot shorter than 12 frames; a shot length "far
 * from the rest" at FAR robust deviations. (Median and MAD instead of mean and deviation, so that the one long shot that
 * is looked for does not hide itself: B. Iglewicz, D. Hoaglin, How to Detect and Handle Outliers, 1993, which puts the
 * limit at 3.5; cited from memory. The factor makes the MAD of normal values their standard deviation.)
 */

/** A row with what the check reads of it. */
export interface ShapeRow extends OutlineRow {
  readonly role: 'opening' | 'body' | 'closing';
  readonly mustShow: string;
  readonly comesIn: string;
  readonly goesOut: string;
}

/** What a film sets for the check. */
export interface ShapeRules {
  /** In frames. */
  readonly runningTime: number;
  /** Hundredths of a percent of the running time. */
  readonly closingShare: number;
  /** In frames. */
  readonly shortestShot: number;
}

type Said =
  | { readonly kind: 'no-opening' | 'no-closing' }
  /** The closing has `frames`, and `least` is what the film asks for. */
  | { readonly kind: 'stops-dead'; readonly frames: number; readonly least: number }
  | { readonly kind: 'nothing-inside' | 'shows-nothing' }
  /** Neither says how the line becomes the next one, `nextId`. */
  | { readonly kind: 'no-way-over'; readonly nextId: string }
  /** `frames` against a median of `median`, `times` robust deviations away. */
  | { readonly kind: 'far-from-rest'; readonly frames: number; readonly median: number; readonly times: number }
  /** `slots` of the shortest shot need `need` frames. */
  | { readonly kind: 'too-many-slots'; readonly slots: number; readonly need: number };

/** A remark and its place: a line, or null for the film. */
export type Remark = Said & { readonly id: string | null; readonly key: string };

const FAR = 3.5;
const MAD_TO_DEVIATION = 1.4826;
/** Fewer shots than this have no "rest" to be far from. */
const ENOUGH = 5;

/** What is to be said of a film's shape, the film first, then from top to bottom. Nothing for an empty outline. */
export function checkShape<Row extends ShapeRow>(lines: readonly Line<Row>[], budget: Budget, rules: ShapeRules): Remark[] {
  if (lines.length === 0) return [];
  const framesOf = (line: Line<Row>): number => budget.lines.get(line.row.id)!.frames;
  const slots = lines.filter(({ row }) => row.kind === 'slot');
  const typical = slots.length >= ENOUGH ? spreadOf(slots.map(framesOf)) : null;
  const nextOf = new Map(slots.map((slot, i) => [slot, slots[i + 1]]));
  return [
    ...ofFilm(lines, slots.length, framesOf, rules).map((said) => remark(null, said)),
    ...lines.flatMap((line) => ofLine(line, nextOf.get(line), framesOf(line), typical).map((said) => remark(line.row.id, said))),
  ];
}

function remark(id: string | null, said: Said): Remark {
  // Of a length far from the rest the facts are the length itself: the rest changes a little with every other one.
  const { kind, ...facts } = said.kind === 'far-from-rest' ? { kind: said.kind, frames: said.frames } : said;
  return { ...said, id, key: [kind, id ?? 'film', ...Object.values(facts)].join(' ') };
}

function ofFilm<Row extends ShapeRow>(lines: readonly Line<Row>[], slots: number, framesOf: (line: Line<Row>) => number, { runningTime, closingShare, shortestShot }: ShapeRules): Said[] {
  const said: Said[] = [];
  const top = lines.filter(({ depth }) => depth === 0);
  const closing = top.filter(({ row }) => row.role === 'closing');
  if (!top.some(({ row }) => row.role === 'opening')) said.push({ kind: 'no-opening' });
  if (closing.length === 0) said.push({ kind: 'no-closing' });
  else {
    const frames = closing.reduce((sum, line) => sum + framesOf(line), 0);
    const least = Math.ceil((closingShare * runningTime) / WHOLE);
    if (frames < least) said.push({ kind: 'stops-dead', frames, least });
  }
  const need = slots * shortestShot;
  if (need > runningTime) said.push({ kind: 'too-many-slots', slots, need });
  return said;
}

function ofLine<Row extends ShapeRow>(line: Line<Row>, next: Line<Row> | undefined, frames: number, typical: { median: number; deviation: number } | null): Said[] {
  const { row, children } = line;
  if (row.kind === 'part') return children.length === 0 ? [{ kind: 'nothing-inside' }] : [];
  const said: Said[] = [];
  if (row.mustShow.trim() === '') said.push({ kind: 'shows-nothing' });
  if (next && row.goesOut.trim() === '' && next.row.comesIn.trim() === '') said.push({ kind: 'no-way-over', nextId: next.row.id });
  if (typical) {
    const times = typical.deviation === 0 ? 0 : Math.abs(frames - typical.median) / typical.deviation;
    if (times > FAR) said.push({ kind: 'far-from-rest', frames, median: typical.median, times: Math.round(times * 10) / 10 });
  }
  return said;
}

/**
 * Median of some lengths and how far they usually lie from it, in frames: at least a tenth of the median, since a shape
 * by numbers has lengths that are alike to the frame, and a difference nobody sees is none (common practice, no source).
 */
function spreadOf(lengths: readonly number[]): { median: number; deviation: number } {
  const median = medianOf(lengths);
  return { median, deviation: Math.max(median / 10, MAD_TO_DEVIATION * medianOf(lengths.map((length) => Math.abs(length - median)))) };
}

function medianOf(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 === 1 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
