import { Prisma, type Clip as ClipRow } from '#prisma';
import type { Db, Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Clip, Seen } from './contract.ts';
import { toClip } from './rows.ts';

type Ranges = Seen['mine'];

/** The clips of a film in the order they came in, without the removed ones; with `ids`, only those. */
export async function listClips(tx: Tx | Db, filmId: string, ids?: readonly string[]): Promise<Clip[]> {
  return (await tx.clip.findMany({ where: { filmId, removedAt: null, ...(ids && { id: { in: [...ids] } }) }, orderBy: { id: 'asc' } })).map(toClip);
}

/**
 * Locks a clip of this film until the transaction ends.
 * @throws Refusal `not-found` when the film has no such clip.
 */
export async function lockClip(tx: Tx, filmId: string, clipId: string): Promise<ClipRow> {
  await tx.$queryRaw`SELECT id FROM clip WHERE id = ${clipId} FOR UPDATE`;
  const row = await tx.clip.findFirst({ where: { id: clipId, filmId } });
  if (!row) throw new Refusal('not-found');
  return row;
}

/**
 * Locks clips of this film, in one order for all, until the transaction ends.
 * @throws Refusal `not-found` when the film has not all of them.
 */
export async function lockClips(tx: Tx, filmId: string, ids: string[]): Promise<ClipRow[]> {
  await tx.$queryRaw`SELECT id FROM clip WHERE id = ANY(${ids}) AND film_id = ${filmId} ORDER BY id FOR UPDATE`;
  const rows = await tx.clip.findMany({ where: { filmId, id: { in: ids } }, orderBy: { id: 'asc' } });
  if (rows.length !== ids.length) throw new Refusal('not-found', `${ids.length - rows.length} of these clips are not in this film.`);
  return rows;
}

/** Sets columns of many clips: those that get the same ones in one statement. @returns the clips as they are sent. */
export async function setColumns(tx: Tx, changes: readonly { id: string; data: Prisma.ClipUpdateManyMutationInput }[]): Promise<Clip[]> {
  const alike = new Map<string, { ids: string[]; data: Prisma.ClipUpdateManyMutationInput }>();
  for (const { id, data } of changes) {
    const key = JSON.stringify(data);
    const group = alike.get(key);
    if (group) group.ids.push(id);
    else alike.set(key, { data, ids: [id] });
  }
  for (const { ids, data } of alike.values()) await tx.clip.updateMany({ where: { id: { in: ids } }, data });
  return (await tx.clip.findMany({ where: { id: { in: changes.map(({ id }) => id) } }, orderBy: { id: 'asc' } })).map(toClip);
}

/** Multiranges as the JSON a browser reads: [[in, outExclusive], …]. */
const stretches = (column: Prisma.Sql): Prisma.Sql =>
  Prisma.sql`(SELECT coalesce(json_agg(json_build_array(lower(r), upper(r)) ORDER BY lower(r)), '[]') FROM unnest(${column}) r)`;

async function seenWhere(tx: Tx | Db, which: Prisma.Sql, userId: string): Promise<Seen[]> {
  return tx.$queryRaw<Seen[]>`
    SELECT clip_id AS id, ${stretches(Prisma.sql`mine`)} AS mine, ${stretches(Prisma.sql`crew`)} AS crew
    FROM (SELECT clip_id, range_agg(ranges) FILTER (WHERE user_id = ${userId}) AS mine, range_agg(ranges) AS crew
          FROM seen WHERE ${which} GROUP BY clip_id) united`;
}

/** What was watched of some clips: by one person, and by anyone. Clips nobody has watched are left out. */
export const seenOf = (tx: Tx | Db, clipIds: readonly string[], userId: string): Promise<Seen[]> => seenWhere(tx, Prisma.sql`clip_id = ANY(${clipIds})`, userId);

/**
 * Adds stretches to what a person has watched of a clip; whatever lies past the end of the clip is dropped.
 * The union is made by Postgres, so two tabs that report at once both count.
 */
export async function addSeen(tx: Tx, clipId: string, userId: string, frames: number, ranges: Ranges): Promise<Seen> {
  const watched = `{${ranges.map(([first, end]) => `[${first},${end})`).join(',')}}`;
  await tx.$executeRaw`
    INSERT INTO seen (clip_id, user_id, ranges)
    VALUES (${clipId}, ${userId}, ${watched}::int4multirange * int4multirange(int4range(0, ${frames}::int)))
    ON CONFLICT (clip_id, user_id) DO UPDATE SET ranges = seen.ranges + EXCLUDED.ranges`;
  const [row] = await seenWhere(tx, Prisma.sql`clip_id = ${clipId}`, userId);
  return row ?? { id: clipId, mine: [], crew: [] };
}
