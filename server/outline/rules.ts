import { inOrder, type OutlineRow } from '#core/outline.ts';
import { gapAfter, type Place } from '#core/outline-moves.ts';
import { spread } from '#core/order.ts';
import { sameWish, type Wish } from '#core/wish.ts';
import { Refusal } from '../platform/errors.ts';
import type { Item, SeenLine, WholeLine } from './contract.ts';

/** A row as the rules need it: removed rows count too, because they still know where they stood. */
export interface PlacedRow extends Omit<OutlineRow, 'wish' | 'fitted'> {
  readonly removedAt: Date | null;
}

/** What is being put somewhere: a new line has no id yet. */
export interface Moving {
  readonly id: string | null;
  readonly kind: 'part' | 'slot';
}

/** Only a part opens or closes the film. */
export function checkRole(kind: 'part' | 'slot', role: 'opening' | 'body' | 'closing' | undefined): void {
  if (kind === 'slot' && role !== undefined && role !== 'body')
    throw new Refusal('bad-input', 'A slot has no role; give it to the part that the slot is in.', { fields: [{ field: 'role', why: 'is for parts only; a slot is "body"' }] });
}

/** A range goes from a shorter length to a longer one; of one length it is that length, fixed. */
export function checkWish(wish: Wish | undefined): void {
  if (wish?.kind === 'range' && wish.min >= wish.max)
    throw new Refusal('bad-input', 'The shortest length of a range is less than its longest.', { fields: [{ field: 'wish.min', why: `is ${wish.min}, and wish.max is ${wish.max}` }] });
}

/**
 * The keys of `count` lines at a place, in the outline as it stands now.
 *
 * Two people move things at once, and both keep their change: when the line to stand after was removed meanwhile, the
 * place where it stood is meant; when it was moved to another part, the end of the part is.
 *
 * @param rows every row of the film, removed ones included.
 * @throws Refusal place-gone, not-a-part, slot-needs-part, own-branch, or bad-input for a line after itself.
 */
export function keysAt(rows: readonly PlacedRow[], moving: Moving, { parentId, afterId }: Place, count: number): string[] {
  const byId = new Map(rows.map((row) => [row.id, row]));
  checkParent(byId, moving, parentId);
  if (afterId !== null && afterId === moving.id) throw new Refusal('bad-input', 'A line cannot stand after itself.', { fields: [{ field: 'afterId', why: 'is the line itself' }] });
  const anchor = afterId === null ? null : byId.get(afterId);
  if (anchor === undefined) throw new Refusal('place-gone', 'The line to stand after is not in this outline.', { fields: [{ field: 'afterId', why: 'names no line of this outline' }] });
  const siblings = rows.filter((row) => row.parentId === parentId && row.removedAt === null && row.id !== moving.id).sort(inOrder);
  return spread(...gapAfter(siblings, parentId, anchor), count);
}

/** The key of one line at a place; see `keysAt`. */
export function keyAt(rows: readonly PlacedRow[], moving: Moving, place: Place): string {
  return keysAt(rows, moving, place, 1)[0] as string;
}

/**
 * Whether lines that are put in whole make a tree. The first stands at depth 0, none more than one deeper than the line
 * before, and nothing stands in a slot. Throws Refusal bad-input with the line's place in the list.
 */
export function checkWhole(lines: readonly WholeLine[]): void {
  const fault = (i: number, field: string, why: string): never => {
    throw new Refusal('bad-input', `Line ${i + 1} cannot be put in: its ${field} ${why}.`, { fields: [{ field: `lines.${i}.${field}`, why }] });
  };
  for (const [i, { depth, kind, role, wish }] of lines.entries()) {
    const before = lines[i - 1];
    if (depth > (before ? before.depth + 1 : 0)) fault(i, 'depth', 'is more than one deeper than the line before');
    if (before?.kind === 'slot' && depth > before.depth) fault(i, 'depth', 'is inside a slot');
    if (kind === 'slot' && role !== 'body') fault(i, 'role', 'is for parts only; a slot is "body"');
    if (wish.kind === 'range' && wish.min >= wish.max) fault(i, 'wish', 'goes from a shorter length to a longer one');
  }
}

/**
 * Nobody takes away what they have not seen: without a link that can be hours of somebody's work, and a move of one's
 * own that was refused leaves a line where one believes it gone.
 * @throws Refusal changed-meanwhile, which names the first line that is not as it was seen.
 */
export function checkSeen(items: readonly Item[], saw: readonly SeenLine[]): void {
  const seen = new Map(saw.map((line) => [line.id, line]));
  for (const item of items) {
    const line = seen.get(item.id);
    const called = item.name.trim() ? `“${item.name.trim()}”` : `a ${item.kind} without a name`;
    if (!line) throw new Refusal('changed-meanwhile', `Nothing was removed: ${called} is in it by now, which was not there when you removed it.`);
    if (!sameWish(line.wish, item.wish) || SAID.some((field) => line[field] !== item[field])) throw new Refusal('changed-meanwhile', `Somebody changed ${called} in the meantime, so nothing was removed.`);
  }
}

const SAID = ['name', 'mustShow', 'comesIn', 'goesOut'] as const;

function checkParent(byId: ReadonlyMap<string, PlacedRow>, moving: Moving, parentId: string | null): void {
  if (parentId === null) {
    if (moving.kind === 'slot') throw new Refusal('slot-needs-part', undefined, { fields: [{ field: 'parentId', why: 'must name a part' }] });
    return;
  }
  const parent = byId.get(parentId);
  if (!parent || parent.removedAt) throw new Refusal('place-gone', 'The part to stand in is not there any more.', { fields: [{ field: 'parentId', why: 'names no part of this outline' }] });
  if (parent.kind === 'slot') throw new Refusal('not-a-part', undefined, { fields: [{ field: 'parentId', why: 'names a slot' }] });
  for (let at: PlacedRow | undefined = parent; at; at = at.parentId === null ? undefined : byId.get(at.parentId))
    if (at.id === moving.id) throw new Refusal('own-branch', undefined, { fields: [{ field: 'parentId', why: 'lies inside the line that is moved' }] });
}

/**
 * Where the top line of a removal comes back: where it stood, or, when its part was removed meanwhile, right after
 * that part's place in the nearest part that is still there, or at the top level.
 * @throws Refusal slot-needs-part when a slot has no part left to come back to; `removalId` says which removal to undo first.
 */
export function placeBack(rows: readonly (PlacedRow & { removalId: string | null })[], row: PlacedRow): { parentId: string | null; orderKey: string } {
  const byId = new Map(rows.map((other) => [other.id, other]));
  let stood: PlacedRow = row;
  let parent = row.parentId === null ? undefined : byId.get(row.parentId);
  const lost = parent?.removedAt ? parent : null;
  while (parent?.removedAt) {
    stood = parent;
    parent = parent.parentId === null ? undefined : byId.get(parent.parentId);
  }
  const parentId = parent?.id ?? null;
  if (row.kind === 'slot' && parentId === null)
    throw new Refusal('slot-needs-part', 'The part this slot stood in was removed too; bring that back first.', { more: { removalId: lost?.removalId ?? null } });
  const taken = rows.some((other) => other.parentId === parentId && other.removedAt === null && other.orderKey === stood.orderKey);
  if (stood === row && !taken) return { parentId, orderKey: row.orderKey };
  return { parentId, orderKey: keyAt(rows, row, { parentId, afterId: stood === row ? siblingWith(rows, parentId, row.orderKey) : stood.id }) };
}

function siblingWith(rows: readonly PlacedRow[], parentId: string | null, orderKey: string): string | null {
  return rows.find((other) => other.parentId === parentId && other.removedAt === null && other.orderKey === orderKey)?.id ?? null;
}
