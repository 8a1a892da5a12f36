import { randomUUID } from 'node:crypto';
import { beginsMoment, compareStates, momentsOf, type Difference, type PastEvent } from '#core/outline-history.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Item, PastMoment, PastPage } from './contract.ts';
import { takeBack, type TakenBack } from './take-back.ts';
import { toColumns, toItem } from './rows.ts';
import { lockOutline } from './store.ts';

const NAMES_TOLD = 3;
const MOMENTS_A_PAGE = 30;
const EVENTS_AT_ONCE = 500;
/** Kinds of the events of bringing a state back, and of taking that back. */
export const [BROUGHT_BACK, TAKEN_BACK] = ['outline.brought-back', 'outline.taken-back'] as const;

/** A page of the moments of a film's outline, newest first. @param before the page holds what was done before this event */
export async function listMoments(tx: Tx, filmId: string, before: number | null = null): Promise<PastPage> {
  const states = await tx.$queryRaw<{ seq: number; name: string; actorId: string | null; at: Date }[]>`
    SELECT seq, name, actor_id AS "actorId", coalesce(at, named_at) AS at FROM outline_state LEFT JOIN event USING (film_id, seq) WHERE film_id = ${filmId} ORDER BY seq DESC`;
  const names = new Map(states.map(({ seq, name }) => [seq, name]));
  const { events, older } = await eventsOfPage(tx, filmId, before, new Set(names.keys()));
  const moments = momentsOf(events, new Set(names.keys()), await versionsBefore(tx, filmId, events)).reverse();
  return {
    moments: moments.map(({ differences, ...moment }) => ({ ...moment, counts: countOf(differences), names: namesOf(differences), name: names.get(moment.seq) ?? null })),
    older,
    named: states.map(({ at, ...state }) => ({ ...state, at: at.toISOString() })),
  };
}

/** The events of a page of moments, oldest first; no moment is cut in two. */
async function eventsOfPage(tx: Tx, filmId: string, before: number | null, ends: ReadonlySet<number>): Promise<{ events: PastEvent<Item>[]; older: number | null }> {
  /** Newest first. */
  const events: PastEvent<Item>[] = [];
  let moments = 0;
  for (let from = before; ; from = events.at(-1)!.seq) {
    const more = await tx.$queryRaw<{ seq: number; actorId: string | null; at: Date; items: Item[] }[]>`
      SELECT seq, actor_id AS "actorId", at, rows->'items' AS items FROM event
      WHERE film_id = ${filmId} AND (${from}::int IS NULL OR seq < ${from}::int) AND jsonb_array_length(rows->'items') > 0 ORDER BY seq DESC LIMIT ${EVENTS_AT_ONCE}`;
    for (const { at, ...event } of more) {
      const older = { ...event, at: at.toISOString() };
      const newer = events.at(-1);
      if (newer && beginsMoment(older, newer, ends) && ++moments === MOMENTS_A_PAGE) return { events: events.reverse(), older: newer.seq };
      events.push(older);
    }
    if (more.length < EVENTS_AT_ONCE) return { events: events.reverse(), older: null };
  }
}

/** The lines that events touch, as they stood before the first of them. */
async function versionsBefore(tx: Tx, filmId: string, events: readonly PastEvent<Item>[]): Promise<Item[]> {
  const [first] = events;
  if (!first) return [];
  const ids = [...new Set(events.flatMap(({ items }) => items.map(({ id }) => id)))];
  return versionsAt(tx, filmId, first.seq - 1, ids);
}

/** The newest version of each line up to an event, of all lines or of some. */
async function versionsAt(tx: Tx, filmId: string, seq: number, ids: readonly string[] | null = null): Promise<Item[]> {
  const rows = await tx.$queryRaw<{ item: Item }[]>`
    SELECT DISTINCT ON (item->>'id') item FROM event, jsonb_array_elements(rows->'items') AS item
    WHERE film_id = ${filmId} AND seq <= ${seq} AND (${ids === null} OR item->>'id' = ANY(${ids ?? []})) ORDER BY item->>'id', seq DESC`;
  return rows.map(({ item }) => item);
}

/** The living lines as they stood after an event. @throws Refusal not-found for a number that is still to come. */
export async function stateAt(tx: Tx, filmId: string, seq: number): Promise<Item[]> {
  await checkSeq(tx, filmId, seq);
  return (await versionsAt(tx, filmId, seq)).filter(({ removedAt }) => removedAt === null);
}

/**
 * Makes the outline what it was after an event. Lines made since are removed as one removal; offers and picks hang on
 * their slots, so they come back with them. Verdicts stay counted. Answers the rows that changed.
 */
export async function bringBack(tx: Tx, filmId: string, seq: number): Promise<Item[]> {
  const rows = (await lockOutline(tx, filmId)).map(toItem);
  const then = await stateAt(tx, filmId, seq);
  const now = new Map(rows.map((row) => [row.id, row]));
  const touched = new Set(compareStates(rows, then).map(({ row }) => row.id));
  const there = new Set(then.map(({ id }) => id));
  const [removalId, removedAt] = [randomUUID(), new Date().toISOString()];
  const changed = [
    ...then.filter(({ id }) => touched.has(id)).map((row): Item => ({ ...row, decisions: now.get(row.id)?.decisions ?? row.decisions, removedAt: null, removalId: null })),
    ...rows.filter((row) => row.removedAt === null && !there.has(row.id)).map((row): Item => ({ ...row, removedAt, removalId })),
  ];
  await updateItems(tx, changed);
  return changed;
}

/**
 * Takes back what bringing a state back did, or what this did: only that, not what somebody changed since.
 * @param seq number of the event that did it
 * @throws Refusal not-found for any other event, changed-meanwhile when nothing is left of it.
 */
export async function takeBackBringing(tx: Tx, filmId: string, seq: number): Promise<TakenBack> {
  const rows = (await lockOutline(tx, filmId)).map(toItem);
  const event = await tx.event.findFirst({ where: { filmId, seq, kind: { in: [BROUGHT_BACK, TAKEN_BACK] } } });
  if (!event) throw new Refusal('not-found', 'No state was brought back there.');
  const { items = [] } = event.rows as { items?: Item[] };
  const taken = takeBack(rows, await stateAt(tx, filmId, seq - 1), items, { removalId: randomUUID(), removedAt: new Date().toISOString() });
  if (taken.changed.length === 0) throw new Refusal('changed-meanwhile', 'Everything this did was changed by somebody since, so nothing was taken back.');
  await updateItems(tx, taken.changed);
  return taken;
}

/** Names a state, or takes its name away for null. @throws Refusal not-found for a number that is still to come. */
export async function nameState(tx: Tx, filmId: string, seq: number, name: string | null, namedById: string): Promise<void> {
  await checkSeq(tx, filmId, seq);
  if (name === null) await tx.outlineState.deleteMany({ where: { filmId, seq } });
  else await tx.outlineState.upsert({ where: { filmId_seq: { filmId, seq } }, create: { filmId, seq, name, namedById }, update: { name, namedById, namedAt: new Date() } });
}

async function checkSeq(tx: Tx, filmId: string, seq: number): Promise<void> {
  const { lastSeq } = await tx.film.findUniqueOrThrow({ where: { id: filmId }, select: { lastSeq: true } });
  if (seq > lastSeq) throw new Refusal('not-found', 'There is no such state yet.');
}

async function updateItems(tx: Tx, items: readonly Item[]): Promise<void> {
  const rows = items.map(toColumns);
  await tx.$executeRaw`
    UPDATE item SET parent_id = t.parent_id, order_key = t.order_key, name = t.name, role = t.role, target_frames = t.target_frames,
      min_frames = t.min_frames, max_frames = t.max_frames, share = t.share, fitted_frames = t.fitted_frames,
      must_show = t.must_show, comes_in = t.comes_in, goes_out = t.goes_out, removed_at = t.removed_at, removal_id = t.removal_id
    FROM jsonb_populate_recordset(null::item, ${JSON.stringify(rows)}::jsonb) AS t WHERE item.id = t.id`;
}

function countOf(differences: readonly Difference<Item>[]): PastMoment['counts'] {
  const counts = { added: 0, removed: 0, renamed: 0, moved: 0, length: 0, role: 0, words: 0 };
  for (const { what } of differences) counts[what]++;
  return counts;
}

function namesOf(differences: readonly Difference<Item>[]): string[] {
  return [...new Set(differences.map(({ row }) => row.name.trim()).filter(Boolean))].slice(0, NAMES_TOLD);
}
