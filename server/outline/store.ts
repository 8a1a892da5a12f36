import { randomUUID } from 'node:crypto';
import type { Item as ItemRow } from '#prisma';
import { mergeWords } from '#core/merge-words.ts';
import { TEXT_LIMITS } from '#core/outline-text.ts';
import { inOrder } from '#core/outline.ts';
import type { Place } from '#core/outline-moves.ts';
import type { Tx } from '../platform/db.ts';
import { checkFreeId } from '../platform/client-id.ts';
import { Refusal } from '../platform/errors.ts';
import type { Item, ItemChange, NewItem, NewRemoval } from './contract.ts';
import { fromWish, toItem } from './rows.ts';
import { checkRole, checkSeen, checkWish, keyAt, placeBack } from './rules.ts';

/** First key of the advisory locks on outlines; the second is a hash of the film's id. */
const OUTLINE_LOCK = 7266;
const WORD_FIELDS = ['name', 'mustShow', 'comesIn', 'goesOut'] as const;
type WordField = (typeof WORD_FIELDS)[number];

/** The living lines of an outline, in wire shape and in no particular order. */
export async function listItems(tx: Tx, filmId: string): Promise<Item[]> {
  return (await tx.item.findMany({ where: { filmId, removedAt: null } })).map(toItem);
}

/** Puts a new line into the outline. @throws Refusal bad-input for an id that is taken, and as `keyAt`, `checkRole` and `checkWish`. */
export async function makeItem(tx: Tx, filmId: string, { id, kind, place, ...rest }: NewItem): Promise<Item> {
  checkRole(kind, rest.role);
  checkWish(rest.wish);
  const rows = await lockOutline(tx, filmId);
  await checkFreeId(id, (one) => tx.item.count({ where: { id: one } }));
  const orderKey = keyAt(rows, { id: null, kind }, place);
  return toItem(await tx.item.create({ data: { ...(id === undefined ? {} : { id }), ...given(rest), name: rest.name, filmId, kind, parentId: place.parentId, orderKey } }));
}

/**
 * Changes what is written on a line, each field by itself, so that two people who write in two fields both stay; two
 * who write in one do where `was` says what this one saw.
 * @throws Refusal not-found, removed-meanwhile, bad-input.
 */
export async function changeItem(tx: Tx, filmId: string, id: string, { was = {}, ...change }: ItemChange): Promise<Item> {
  await tx.$executeRaw`SELECT id FROM item WHERE id = ${id} AND film_id = ${filmId} FOR UPDATE`;
  const row = living(await tx.item.findFirst({ where: { id, filmId } }));
  checkRole(row.kind, change.role);
  checkWish(change.wish);
  return toItem(await tx.item.update({ where: { id }, data: { ...given(change), ...mergedWords(row, was, change) } }));
}

/** Moves a line with everything in it. @throws Refusal not-found, removed-meanwhile, and as `keyAt`. */
export async function moveItem(tx: Tx, filmId: string, id: string, place: Place): Promise<Item> {
  const rows = await lockOutline(tx, filmId);
  const row = living(rows.find((other) => other.id === id));
  const orderKey = keyAt(rows, row, place);
  return toItem(await tx.item.update({ where: { id }, data: { parentId: place.parentId, orderKey } }));
}

/**
 * Takes lines away with everything in them, as one removal.
 * @throws Refusal not-found, removed-meanwhile, changed-meanwhile when any of it is not as the person saw it.
 */
export async function removeItems(tx: Tx, filmId: string, { items: ids, saw, removal: removalId = randomUUID() }: NewRemoval): Promise<{ removalId: string; items: Item[] }> {
  const rows = await lockOutline(tx, filmId);
  const byId = new Map(rows.map((row) => [row.id, row]));
  const below = Map.groupBy(rows.filter(({ removedAt }) => removedAt === null), ({ parentId }) => parentId);
  const branches = new Set(ids.map((id) => living(byId.get(id))));
  for (const row of branches) for (const inside of below.get(row.id) ?? []) branches.add(inside);
  if (saw) checkSeen([...branches].map(toItem), saw);
  const items = await tx.item.updateManyAndReturn({ where: { id: { in: [...branches].map(({ id }) => id) } }, data: { removalId, removedAt: new Date() } });
  return { removalId, items: items.map(toItem) };
}

/** Brings back what one removal took away. @throws Refusal not-found when there is nothing to bring back, slot-needs-part. */
export async function undoRemoval(tx: Tx, filmId: string, removalId: string): Promise<{ removalId: string; items: Item[] }> {
  const rows = await lockOutline(tx, filmId);
  const removed = new Set(rows.filter((row) => row.removalId === removalId).map(({ id }) => id));
  // Those whose part is not among them; everything else comes back inside these.
  const tops = rows.filter(({ id, parentId }) => removed.has(id) && (parentId === null || !removed.has(parentId))).sort(inOrder);
  if (tops.length === 0) throw new Refusal('not-found', 'There is no such removal, or it has been undone already.');
  for (const top of tops) {
    const back = placeBack(rows, top);
    await tx.item.update({ where: { id: top.id }, data: back });
    Object.assign(top, back, { removedAt: null });
  }
  const items = await tx.item.updateManyAndReturn({ where: { removalId, filmId }, data: { removalId: null, removedAt: null } });
  return { removalId, items: items.map(toItem) };
}

/**
 * Every row of the outline, removed ones too, and nobody else changes its shape until this transaction ends.
 * A lock of its own: locking rows would not keep two people from moving two parts into each other.
 */
export async function lockOutline(tx: Tx, filmId: string): Promise<ItemRow[]> {
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${OUTLINE_LOCK}::int, hashtext(${filmId}))`;
  return tx.item.findMany({ where: { filmId } });
}

function living(row: ItemRow | null | undefined): ItemRow {
  if (!row) throw new Refusal('not-found');
  if (row.removedAt) throw new Refusal('removed-meanwhile', undefined, { more: { removalId: row.removalId } });
  return row;
}

/** Words that somebody else changed since this person saw them, with both changes in them. Of a name that gets too long the rest goes to what must be shown. */
function mergedWords(row: ItemRow, was: NonNullable<ItemChange['was']>, change: ItemChange): Partial<Pick<ItemRow, WordField>> {
  const merged: Partial<Pick<ItemRow, WordField>> = {};
  for (const field of WORD_FIELDS) {
    const [seen, mine] = [was[field], change[field]];
    if (seen !== undefined && mine !== undefined) merged[field] = mergeWords(seen, row[field], mine);
  }
  if (merged.name && [...merged.name].length > TEXT_LIMITS.name) {
    merged.mustShow = [merged.mustShow ?? change.mustShow ?? row.mustShow, change.name].filter(Boolean).join('\n');
    merged.name = row.name;
  }
  for (const field of WORD_FIELDS)
    if ([...(merged[field] ?? '')].length > TEXT_LIMITS.words) throw new Refusal('bad-input', 'Somebody else wrote here too, and both texts together are too long.', { fields: [{ field, why: 'is too long with what somebody else wrote' }] });
  return merged;
}

/** The fields that were given, as columns, and no others. */
function given({ wish, ...change }: Partial<Omit<ItemChange, 'was'>>) {
  const rest: { [F in keyof typeof change]?: Exclude<(typeof change)[F], undefined> } = Object.fromEntries(Object.entries(change).filter(([, value]) => value !== undefined));
  return { ...rest, ...(wish && fromWish(wish)) };
}
