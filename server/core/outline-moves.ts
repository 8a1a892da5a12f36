import type { Line, OutlineRow } from './outline.ts';

/** Where a line stands: under `parentId` (null: top level), right after `afterId` (null: first). */
export type Place = { readonly parentId: string | null; readonly afterId: string | null };

/*
 * Where a line goes when it is moved by one step, as the page asks for it; null where there is no such place.
 * The server checks every place again against the outline as it stands then.
 */

/** The siblings of a line, itself among them. `lines` is what `outlineOrder` gave. */
export function siblingsOf<Row extends OutlineRow>(lines: readonly Line<Row>[], line: Line<Row>): readonly Line<Row>[] {
  return line.parent?.children ?? lines.filter(({ depth }) => depth === 0);
}

/** One line up among its siblings; the first one goes to the end of the part before its own. */
export function placeUp<Row extends OutlineRow>(lines: readonly Line<Row>[], line: Line<Row>): Place | null {
  const siblings = siblingsOf(lines, line);
  const at = siblings.indexOf(line);
  if (at > 0) return { parentId: line.parent?.row.id ?? null, afterId: siblings[at - 2]?.row.id ?? null };
  if (!line.parent) return null;
  const uncles = siblingsOf(lines, line.parent);
  const before = uncles.slice(0, uncles.indexOf(line.parent)).findLast(({ row }) => row.kind === 'part');
  return before ? lastIn(before) : null;
}

/** One line down among its siblings; the last one goes to the beginning of the part after its own. */
export function placeDown<Row extends OutlineRow>(lines: readonly Line<Row>[], line: Line<Row>): Place | null {
  const siblings = siblingsOf(lines, line);
  const next = siblings[siblings.indexOf(line) + 1];
  if (next) return { parentId: line.parent?.row.id ?? null, afterId: next.row.id };
  if (!line.parent) return null;
  const uncles = siblingsOf(lines, line.parent);
  const after = uncles.slice(uncles.indexOf(line.parent) + 1).find(({ row }) => row.kind === 'part');
  return after ? { parentId: after.row.id, afterId: null } : null;
}

/** One level in: to the end of the part right before it. */
export function placeIn<Row extends OutlineRow>(lines: readonly Line<Row>[], line: Line<Row>): Place | null {
  const siblings = siblingsOf(lines, line);
  const before = siblings[siblings.indexOf(line) - 1];
  return before?.row.kind === 'part' ? lastIn(before) : null;
}

/** One level out: right after the part it was in. A slot never leaves its sequence this way. */
export function placeOut<Row extends OutlineRow>(line: Line<Row>): Place | null {
  if (!line.parent || (line.row.kind === 'slot' && !line.parent.parent)) return null;
  return { parentId: line.parent.parent?.row.id ?? null, afterId: line.parent.row.id };
}

/**
 * Where a dragged line may be let go on another one: before it, after it, or at the beginning of a part.
 * Null when it would stand in itself, or a slot outside every part.
 */
export function placeAt<Row extends OutlineRow>(lines: readonly Line<Row>[], moved: Line<Row>, target: Line<Row>, where: 'before' | 'inside' | 'after'): Place | null {
  if (within(target, moved)) return null;
  if (where === 'inside') return target.row.kind === 'part' ? { parentId: target.row.id, afterId: null } : null;
  if (!target.parent && moved.row.kind === 'slot') return null;
  const parentId = target.parent?.row.id ?? null;
  if (where === 'after') return { parentId, afterId: target.row.id };
  const siblings = siblingsOf(lines, target).filter((line) => line !== moved);
  return { parentId, afterId: siblings[siblings.indexOf(target) - 1]?.row.id ?? null };
}

function within<Row extends OutlineRow>(line: Line<Row> | null, branch: Line<Row>): boolean {
  for (let at = line; at; at = at.parent) if (at === branch) return true;
  return false;
}

function lastIn<Row extends OutlineRow>(part: Line<Row>): Place {
  return { parentId: part.row.id, afterId: part.children.at(-1)?.row.id ?? null };
}

type Placed = Pick<OutlineRow, 'parentId' | 'orderKey'>;

/**
 * The keys that a line gets its own between: after `anchor`, or first for null. Where the anchor stands in another part
 * by now, the end of this one is meant.
 * @param siblings the living lines of the part, in order, without the line that is placed
 */
export function gapAfter(siblings: readonly Placed[], parentId: string | null, anchor: Placed | null): [left: string | null, right: string | null] {
  if (!anchor) return [null, siblings[0]?.orderKey ?? null];
  const left = anchor.parentId === parentId ? anchor.orderKey : (siblings.at(-1)?.orderKey ?? null);
  // Strictly after: a removed line may have left its key to a newer one.
  return [left, siblings.find(({ orderKey }) => left !== null && orderKey > left)?.orderKey ?? null];
}
