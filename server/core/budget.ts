import { departureFrom, divide, type Ask, type Branch } from './division.ts';
import { fittedLengths } from './fitted.ts';
import type { Line, OutlineRow } from './outline.ts';
import type { Rate } from './rate.ts';
import { framesAsked, WHOLE } from './wish.ts';

/*
 * The budget: the running time of the film flows down the outline, and every line gets a whole number of frames. Parts
 * are exactly the sum of what is inside them, the film exactly its running time.
 *
 * Wishes become asks in frames, and `divide` (division.ts) settles them at the least departure, exactly. A share can be
 * put in frames only when the length of its part is known; so it goes from the film down:
 *   settle(lines of a part, its length): each share among them asks for one of the two whole numbers next to it; the
 *   whole branch is divided; then every branch in which shares stand deeper is settled by itself at the length it got.
 * Until then the shares in a part speak through it: besides what the part itself wishes, it asks for the lengths at which
 * they and what else is inside can all hold ("10 s, and another that is half of the part" asks for 20 s). Without shares
 * inside parts of no fixed length this is one division, the optimum of the whole tree.
 */

/** What a line gets. All in frames. */
export interface LineBudget {
  readonly frames: number;
  /** Where it begins, from the beginning of the film. */
  readonly start: number;
  /** What it asks for, a share put in frames; null for nothing asked. */
  readonly asked: Ask | null;
  /** By how much it gets more (positive) or less (negative) than it asks for. */
  readonly departure: number;
}

/** Where wishes do not add up: what is inside asks for `frames` more (over) or less (short) than the place has. */
export interface Conflict {
  /** The part, or null for the film. */
  readonly id: string | null;
  readonly kind: 'over' | 'short';
  readonly frames: number;
}

export interface Budget {
  readonly lines: ReadonlyMap<string, LineBudget>;
  /** What the lines get by their wishes alone; the same as `lines` where no fit holds. */
  readonly wished: ReadonlyMap<string, LineBudget>;
  /** Whether lengths that were fitted to music hold: `fallen` where there are some, and the outline does not allow them as it stands. */
  readonly fit: 'none' | 'holds' | 'fallen';
  /** From top to bottom, the film first. */
  readonly conflicts: readonly Conflict[];
}

/** Anything from `min` to `max` frames, with fractions; `max` may be Infinity. */
interface Span {
  readonly min: number;
  readonly max: number;
}

const ANY: Span = { min: 1, max: Infinity };

/**
 * Divides a running time over an outline; where lengths fitted to music hold (fitted.ts), lines get those.
 * @param lines what `outlineOrder` gave
 * @param total the running time, in frames from 0
 * @param rate of the film, for what counts as rounding (see `roundingSlack`)
 */
export function budgetOf(lines: readonly Line<OutlineRow>[], total: number, rate: Rate): Budget {
  const top = lines.filter(({ depth }) => depth === 0);
  const spans = new Map<Line<OutlineRow>, Spans>();
  for (const line of lines.toReversed()) spans.set(line, spansOf(line, spans));
  const lengths = new Map<Line<OutlineRow>, number>();
  settle(top, total, spans, lengths);

  const budget = placed(lines, (line) => lengths.get(line)!, total);
  const whole = conflictIn(top, { min: total, max: total }, total, insideOf(top, spans), spans, rate);
  const found = lines.filter(({ children }) => children.length > 0).map((part) => {
    const { frames, asked } = budget.get(part.row.id)!;
    return { id: part.row.id, ...conflictIn(part.children, asked, frames, spans.get(part)!.inside, spans, rate) };
  });
  const conflicts = [{ id: null, ...whole }, ...found].filter((one): one is Conflict => one.kind !== undefined);
  const fitted = fittedLengths(lines, budget, total);
  if (fitted) return { lines: placed(lines, ({ row }) => fitted.get(row.id)!, total), wished: budget, fit: 'holds', conflicts };
  return { lines: budget, wished: budget, fit: lines.some(({ row }) => row.fitted !== null) ? 'fallen' : 'none', conflicts };
}

/** Lines with their lengths, one after the other from the beginning of the film. */
function placed(lines: readonly Line<OutlineRow>[], lengthOf: (line: Line<OutlineRow>) => number, total: number): Map<string, LineBudget> {
  const budget = new Map<string, LineBudget>();
  let end = 0;
  for (const line of lines) {
    const start = startOf(line, budget, end);
    const frames = lengthOf(line);
    const asked = askOf(line, line.parent ? lengthOf(line.parent) : total);
    budget.set(line.row.id, { frames, start, asked, departure: asked ? departureFrom(frames, asked) : 0 });
    if (line.children.length === 0) end = start + frames;
  }
  return budget;
}

/**
 * How far a sum of `count` lengths may lie from its target, in frames, only because seconds are not whole frames: half
 * a frame for each of them and for the target. Three times 10 s at 24000/1001 are 720 frames, and 30 s are 719.
 */
export const roundingSlack = (count: number, rate: Rate): number => (rate.num % rate.den === 0 ? 0 : (count + 1) / 2);

function startOf(line: Line<OutlineRow>, budget: ReadonlyMap<string, LineBudget>, end: number): number {
  const { parent } = line;
  return parent?.children[0] === line ? budget.get(parent.row.id)!.start : end;
}

/** What a line asks for in frames, given the length of its part. */
function askOf({ row: { wish } }: Line<OutlineRow>, whole: number): Ask | null {
  if (wish.kind !== 'share') return framesAsked(wish);
  const share = wish.share * whole;
  return { min: Math.max(1, Math.floor(share / WHOLE)), max: Math.max(1, Math.ceil(share / WHOLE)) };
}

function settle(lines: readonly Line<OutlineRow>[], length: number, spans: ReadonlyMap<Line<OutlineRow>, Spans>, lengths: Map<Line<OutlineRow>, number>): void {
  const numbered: Line<OutlineRow>[] = [];
  const branch = (line: Line<OutlineRow>, whole: number | null): Branch => {
    numbered.push(line);
    const wished = line.row.wish.kind === 'share' ? whole !== null && askOf(line, whole) : askOf(line, 0);
    const asks = [wished, spans.get(line)!.voiced].filter((ask): ask is Ask => Boolean(ask));
    return { asks, inside: line.children.map((child) => branch(child, null)) };
  };
  const got = divide({ asks: [], inside: lines.map((line) => branch(line, length)) }, length);
  numbered.forEach((line, i) => lengths.set(line, got[i + 1]!));
  for (const line of lines) if (spans.get(line)!.shared) settle(line.children, lengths.get(line)!, spans, lengths);
}

/** What can hold in a line, whatever stands around it. */
interface Spans {
  /** Lengths at which everything inside can hold; null when it never can, or nothing is inside. */
  readonly inside: Span | null;
  /** Lengths at which its own wish holds too; where those do not meet, its own wish alone. A share is no wish here. */
  readonly all: Span;
  /** What the shares in it make it ask for. */
  readonly voiced: Ask | null;
  /** Whether shares stand somewhere inside. */
  readonly shared: boolean;
}

function spansOf(line: Line<OutlineRow>, spans: ReadonlyMap<Line<OutlineRow>, Spans>): Spans {
  const { children, row } = line;
  const own = framesAsked(row.wish);
  if (children.length === 0) return { inside: null, all: own ?? ANY, voiced: null, shared: false };
  const inside = insideOf(children, spans);
  const both = own && inside ? meeting([own, inside]) : null;
  const direct = children.some((child) => child.row.wish.kind === 'share');
  return { inside, all: both ?? own ?? inside ?? ANY, voiced: direct && inside ? wholeFrames(inside) : null, shared: direct || children.some((child) => spans.get(child)!.shared) };
}

/**
 * Lengths of a part at which all lines in it can hold, or null. With the shares adding up to s, the others fill the rest:
 * between (sum of their least) / (1 − s) and (sum of their most) / (1 − s); and no share may be less or more than what
 * is inside it can bear.
 */
function insideOf(children: readonly Line<OutlineRow>[], spans: ReadonlyMap<Line<OutlineRow>, Spans>): Span | null {
  let [left, min, max] = [WHOLE, 0, 0];
  const bounds: Span[] = [];
  for (const child of children) {
    const { all } = spans.get(child)!;
    const { wish } = child.row;
    if (wish.kind === 'share') {
      left -= wish.share;
      // The first length whose share, rounded up, is enough, and the last whose share, rounded down, is not too much.
      bounds.push({ min: Math.floor(((all.min - 1) * WHOLE) / wish.share) + 1, max: Math.ceil(((all.max + 1) * WHOLE) / wish.share) - 1 });
    } else [min, max] = [min + all.min, max + all.max];
  }
  if (left < 0 || (left === 0 && min > 0)) return null;
  if (left > 0) bounds.push({ min: (min * WHOLE) / left, max: (max * WHOLE) / left });
  return meeting(bounds);
}

function meeting(spans: readonly Span[]): Span | null {
  const span = { min: Math.max(...spans.map(({ min }) => min)), max: Math.min(...spans.map(({ max }) => max)) };
  return span.min <= span.max ? span : null;
}

/** The whole numbers of a span; where there is none, the next above, where rounded shares still hold. */
function wholeFrames({ min, max }: Span): Ask {
  const least = Math.ceil(min);
  return { min: least, max: Math.max(least, Math.floor(max)) };
}

/** What does not add up in a place that asks for `asked` (null: nothing) and has `frames`. */
function conflictIn(
  children: readonly Line<OutlineRow>[],
  asked: Ask | null,
  frames: number,
  inside: Span | null,
  spans: ReadonlyMap<Line<OutlineRow>, Spans>,
  rate: Rate,
): { kind?: Conflict['kind']; frames: number } {
  const slack = roundingSlack(children.length, rate);
  if (children.length === 0 || (inside && (!asked || meeting([asked, inside])))) return { frames: 0 };
  // By how much is said at the length asked for that is nearest to the one it has.
  const at = asked ? frames - departureFrom(frames, asked) : frames;
  let [min, max] = [0, 0];
  for (const child of children) {
    const { all } = spans.get(child)!;
    const ask = child.row.wish.kind === 'share' ? askOf(child, at)! : all;
    [min, max] = [min + ask.min, max + ask.max];
  }
  if (min - at > slack) return { kind: 'over', frames: Math.ceil(min - at) };
  return at - max > slack ? { kind: 'short', frames: Math.ceil(at - max) } : { frames: 0 };
}
