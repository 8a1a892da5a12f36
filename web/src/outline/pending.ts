import type { Item, ItemChange, Place, SeenLine } from '#contract/outline';
import { inOrder } from '#core/outline.ts';
import { gapAfter } from '#core/outline-moves.ts';
import { between } from '#core/order.ts';
import { OPEN } from '#core/wish.ts';
import type { Named } from '../live/outbox.svelte.ts';

/** A change of the outline. `rescued` counts how often a line had to find another place. */
export type Change =
  | { readonly what: 'make'; readonly id: string; readonly kind: Item['kind']; readonly name: string; readonly mustShow?: string; readonly place: Place; readonly rescued?: number }
  | { readonly what: 'change'; readonly id: string; readonly change: ItemChange }
  | { readonly what: 'move'; readonly id: string; readonly place: Place }
  /** `saw` is the line and all in it as the person saw them. */
  | { readonly what: 'remove'; readonly id: string; readonly removalId: string; readonly saw: readonly SeenLine[] }
  | { readonly what: 'restore'; readonly removalId: string };

/** One on its way to the server. */
export type Pending = Named<Change>;

/**
 * The lines as they will be when everything on its way has arrived. What cannot be done is left to the server to refuse.
 * @param removals what removals took away that have arrived, so that bringing it back shows at once
 */
export function withPending(items: Iterable<Item>, changes: readonly Change[], removals: ReadonlyMap<string, readonly Item[]> = new Map()): Item[] {
  const rows = new Map(Array.from(items, (row) => [row.id, row]));
  const removed = new Map(removals);

  function keyAt(id: string, { parentId, afterId }: Place): string {
    const siblings = [...rows.values()].filter((row) => row.parentId === parentId && row.id !== id).sort(inOrder);
    const anchor = afterId === null ? null : (rows.get(afterId) ?? siblings.at(-1) ?? null);
    return between(...gapAfter(siblings, parentId, anchor));
  }

  for (const change of changes) {
    if (change.what === 'make' && !rows.has(change.id)) rows.set(change.id, newRow(change, keyAt(change.id, change.place)));
    else if (change.what === 'restore') for (const row of removed.get(change.removalId) ?? []) rows.set(row.id, row);
    if (change.what === 'make' || change.what === 'restore') continue;
    const row = rows.get(change.id);
    if (!row) continue;
    if (change.what === 'change') {
      const { was: _, ...fields } = change.change;
      rows.set(row.id, { ...row, ...fields });
    } else if (change.what === 'move') {
      if (isInside(rows, change.place.parentId, row.id)) continue;
      rows.set(row.id, { ...row, parentId: change.place.parentId, orderKey: keyAt(row.id, change.place) });
    } else {
      const branch = branchIn(rows, row);
      removed.set(change.removalId, branch);
      for (const { id } of branch) rows.delete(id);
    }
  }
  return [...rows.values()];
}

function branchIn(rows: ReadonlyMap<string, Item>, top: Item): Item[] {
  const below = Map.groupBy(rows.values(), ({ parentId }) => parentId);
  const branch = new Set([top]);
  for (const { id } of branch) for (const row of below.get(id) ?? []) branch.add(row);
  return [...branch];
}

/** Somebody else may have moved the part into this branch meanwhile; the server will refuse the move then. */
function isInside(rows: ReadonlyMap<string, Item>, partId: string | null, topId: string): boolean {
  const above = new Set<string>();
  for (let at = partId; at !== null && !above.has(at); at = rows.get(at)?.parentId ?? null) above.add(at);
  return above.has(topId);
}

function newRow({ id, kind, name, mustShow = '', place }: Extract<Change, { what: 'make' }>, orderKey: string): Item {
  return { id, kind, name, parentId: place.parentId, orderKey, role: 'body', wish: OPEN, fitted: null, mustShow, comesIn: '', goesOut: '', decisions: 0, removedAt: null, removalId: null };
}
