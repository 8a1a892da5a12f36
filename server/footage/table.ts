// The footage as a table: a row a shoot day, a column a camera, read a window at a time. Where a clip stands, and what a
// word is, are functions of the database with indexes of their own (migration footage_table).
import { Prisma, type Clip as ClipRow } from '#prisma';
import type { Db, Tx } from '../platform/db.ts';
import type { FamilyGlance, FootageFilter, FootageRow, FootageTable } from './contract.ts';
import { toClip } from './rows.ts';
import { seenOf } from './store.ts';

const KEY = Prisma.sql`footage_key(c.shoot_day, c.camera, c.captured_at, c.start_frame, c.rate_num, c.rate_den, c.name, c.id) COLLATE "C"`;
const SECONDS = Prisma.sql`(c.frames::numeric * c.rate_den / c.rate_num)`;
const CREW = Prisma.sql`(SELECT range_agg(s.ranges) FROM seen s WHERE s.clip_id = c.id)`;
const NOBODY = Prisma.sql`NOT EXISTS (SELECT FROM seen s WHERE s.clip_id = c.id AND NOT isempty(s.ranges))`;
const WHOLE = Prisma.sql`(c.frames IS NOT NULL AND ${CREW} @> int4range(0, c.frames))`;
const SELECTS = Prisma.sql`SELECT FROM "select" s WHERE s.clip_id = c.id AND s.removed_at IS NULL`;

const dayOf = (day: string): Date | null => (day === 'none' ? null : new Date(`${day}T00:00:00Z`));

/** Whether a word of a clip `c` begins as `query`, a prefix of to_tsquery, says. */
export const clipHasWord = (query: string): Prisma.Sql => Prisma.sql`words_of(c.name || ' ' || c.location || ' ' || c.camera || ' ' || c.card || ' ' || coalesce(c.reel, '')) @@ to_tsquery('simple', ${query})`;

/** A word that begins like this. */
function wordCondition(filmId: string, word: string): Prisma.Sql {
  const query = `${word}:*`;
  return Prisma.sql`(${clipHasWord(query)}
    OR c.id IN (SELECT s.clip_id FROM "select" s WHERE s.film_id = ${filmId} AND s.removed_at IS NULL AND words_of(s.label) @@ to_tsquery('simple', ${query}))
    OR c.id IN (SELECT n.clip_id FROM note n WHERE n.film_id = ${filmId} AND n.removed_at IS NULL AND words_of(n.text) @@ to_tsquery('simple', ${query})))`;
}

/** The words of a question as they stand in the index: letters and digits only. */
export const wordsIn = (text: string): string[] => text.toLowerCase().split(/[^\p{L}\p{N}]+/u).filter(Boolean);

/** What a clip `c` must be to be asked for. */
function wanted(filmId: string, { words = '', camera, day, location, longer, shorter, seen, selects, fault, state }: FootageFilter): Prisma.Sql {
  const conditions = [
    Prisma.sql`c.film_id = ${filmId} AND c.removed_at IS NULL`,
    ...wordsIn(words).map((word) => wordCondition(filmId, word)),
    // A cell is a stretch of the table's own index.
    ...(camera !== undefined && day !== undefined
      ? [Prisma.sql`${KEY} >= footage_cell(${dayOf(day)}::date, ${camera}) AND ${KEY} < left(footage_cell(${dayOf(day)}::date, ${camera}), -1) || E'\x02'`]
      : [...(camera === undefined ? [] : [Prisma.sql`c.camera = ${camera}`]), ...(day === undefined ? [] : [Prisma.sql`c.shoot_day IS NOT DISTINCT FROM ${dayOf(day)}::date`])]),
    ...(location === undefined ? [] : [Prisma.sql`c.location = ${location}`]),
    ...(longer === undefined ? [] : [Prisma.sql`${SECONDS} >= ${longer}`]),
    ...(shorter === undefined ? [] : [Prisma.sql`${SECONDS} <= ${shorter}`]),
    ...(seen === undefined ? [] : [seen === 'none' ? NOBODY : seen === 'whole' ? WHOLE : Prisma.sql`NOT ${NOBODY} AND NOT coalesce(${WHOLE}, false)`]),
    ...(selects === undefined ? [] : [selects === 'none' ? Prisma.sql`NOT EXISTS (${SELECTS})` : selects === 'some' ? Prisma.sql`EXISTS (${SELECTS})` : selects === 'aside' ? Prisma.sql`c.aside_at IS NOT NULL` : Prisma.sql`EXISTS (${SELECTS} AND s.circled)`]),
    ...(fault === undefined ? [] : [Prisma.sql`jsonb_exists(c.faults, ${fault})`]),
    ...(state === undefined ? [] : [state === 'unfinished' ? Prisma.sql`c.state IN ('received', 'working')` : Prisma.sql`c.state = ${state}::"ClipState"`]),
  ];
  return Prisma.join(conditions, ' AND ');
}

/** The table of what is asked for: how many clips each cell has, and what can be asked for at all. */
export async function tableOf(db: Tx | Db, filmId: string, filter: FootageFilter): Promise<FootageTable> {
  const cells = await db.$queryRaw<{ day: string | null; camera: string; num: number | null; den: number | null; clips: number; frames: number }[]>`
    SELECT c.shoot_day::text AS day, c.camera, c.rate_num AS num, c.rate_den AS den, count(*)::int AS clips, coalesce(sum(c.frames), 0)::float8 AS frames
    FROM clip c WHERE ${wanted(filmId, filter)} GROUP BY c.shoot_day, c.camera, c.rate_num, c.rate_den
    ORDER BY min(footage_cell(c.shoot_day, c.camera) COLLATE "C")`;
  const [film] = await db.$queryRaw<[FootageTable['film']]>`
    SELECT count(*)::int AS clips, count(*) FILTER (WHERE c.state IN ('received', 'working'))::int AS unfinished, count(*) FILTER (WHERE c.state = 'failed')::int AS failed,
      coalesce(array_agg(DISTINCT c.camera), '{}') AS cameras, coalesce(array_agg(DISTINCT c.shoot_day::text), '{}') AS days, coalesce(array_agg(DISTINCT c.location), '{}') AS locations
    FROM clip c WHERE c.film_id = ${filmId} AND c.removed_at IS NULL`;
  const order = await db.$queryRaw<{ camera: string }[]>`
    SELECT camera FROM unnest(${film.cameras}::text[]) camera ORDER BY footage_cell(NULL, camera) COLLATE "C"`;
  const cameras = order.map(({ camera }) => camera).filter((camera) => cells.some((cell) => cell.camera === camera));
  const days = [...new Set(cells.map(({ day }) => day))];
  const count = (day: string | null, camera: string) => cells.filter((cell) => cell.day === day && cell.camera === camera).reduce((sum, { clips }) => sum + clips, 0);
  const rates = Map.groupBy(cells.filter(({ num, den }) => num !== null && den !== null), ({ num, den }) => `${num}/${den}`);
  return {
    cameras,
    days: days.map((day) => ({ day, counts: cameras.map((camera) => count(day, camera)) })),
    clips: cells.reduce((sum, { clips }) => sum + clips, 0),
    frames: [...rates.values()].map((of) => ({ rate: { num: of[0]!.num!, den: of[0]!.den! }, frames: of.reduce((sum, { frames }) => sum + frames, 0) })),
    film: { ...film, cameras: order.map(({ camera }) => camera) },
  };
}

/** Rows of the table in its order: `limit` of them after leaving out `offset`. */
export async function windowOf(db: Tx | Db, filmId: string, userId: string, filter: FootageFilter, { offset, limit }: { offset: number; limit: number }): Promise<FootageRow[]> {
  const ids = await db.$queryRaw<{ id: string }[]>`SELECT c.id FROM clip c WHERE ${wanted(filmId, filter)} ORDER BY ${KEY} OFFSET ${offset} LIMIT ${limit}`;
  return rowsOf(db, filmId, userId, ids.map(({ id }) => id));
}

/** Ids of all clips that are asked for, in the order of the table. */
export async function idsOf(db: Tx | Db, filmId: string, filter: FootageFilter): Promise<string[]> {
  return (await db.$queryRaw<{ id: string }[]>`SELECT c.id FROM clip c WHERE ${wanted(filmId, filter)} ORDER BY ${KEY}`).map(({ id }) => id);
}

/** Rows of the table by their ids, in that order; those the film does not have are left out. */
export async function rowsOf(db: Tx | Db, filmId: string, userId: string, ids: readonly string[]): Promise<FootageRow[]> {
  const [clips, counts, seen, families] = await Promise.all([
    db.clip.findMany({ where: { filmId, removedAt: null, id: { in: [...ids] } } }),
    db.$queryRaw<{ id: string; selects: number; circled: number; notes: number }[]>`
      SELECT c.id, (SELECT count(*)::int FROM "select" s WHERE s.clip_id = c.id AND s.removed_at IS NULL) AS selects,
        (SELECT count(*)::int FROM "select" s WHERE s.clip_id = c.id AND s.removed_at IS NULL AND s.circled) AS circled,
        (SELECT count(*)::int FROM note n WHERE n.clip_id = c.id AND n.removed_at IS NULL AND n.parent_id IS NULL AND n.settled_at IS NULL) AS notes
      FROM clip c WHERE c.id = ANY(${ids}) AND c.film_id = ${filmId}`,
    seenOf(db, ids, userId),
    db.$queryRaw<(FamilyGlance & { id: string })[]>`
      SELECT own.clip_id AS id, (count(*) + 1)::int AS takes, count(*) FILTER (WHERE own.offset_num IS NOT NULL AND m.offset_num IS NOT NULL)::int AS rolled,
        coalesce(array_agg(DISTINCT c.camera) FILTER (WHERE own.offset_num IS NOT NULL AND m.offset_num IS NOT NULL AND c.camera <> ''), '{}') AS rolling
      FROM family_member own JOIN family_member m ON m.family_id = own.family_id AND m.clip_id <> own.clip_id JOIN clip c ON c.id = m.clip_id
      WHERE own.clip_id = ANY(${ids}) AND c.removed_at IS NULL GROUP BY own.clip_id`,
  ]);
  const clipOf = new Map(clips.map((clip) => [clip.id, clip]));
  const countOf = new Map(counts.map((count) => [count.id, count]));
  const seenBy = new Map(seen.map((one) => [one.id, one]));
  const familyOf = new Map(families.map(({ id, ...family }) => [id, family]));
  return ids.flatMap((id) => {
    const [clip, count] = [clipOf.get(id), countOf.get(id)];
    if (!clip || !count) return [];
    const { selects, circled, notes } = count;
    return [{ clip: toClip(clip), selects, circled, notes, seen: seenBy.get(id) ?? { id, mine: [], crew: [] }, family: familyOf.get(id) ?? null }];
  });
}

/**
 * Clips that follow one in the table, or stand before it, nearest first.
 * @param from id of a clip of the film; null begins at that end of the table
 * @param unseen only those of which somebody has still to see something, without those put aside
 */
export async function clipsBeside(db: Tx | Db, filmId: string, { from, way, limit, unseen }: { from: string | null; way: 'after' | 'before'; limit: number; unseen: boolean }, filter: FootageFilter): Promise<ClipRow[]> {
  const start = Prisma.sql`(SELECT ${KEY} FROM clip c WHERE c.id = ${from} AND c.film_id = ${filmId})`;
  const beyond = from === null ? Prisma.sql`true` : way === 'after' ? Prisma.sql`${KEY} > ${start}` : Prisma.sql`${KEY} < ${start}`;
  const left = unseen ? Prisma.sql`c.aside_at IS NULL AND NOT coalesce(${WHOLE}, false)` : Prisma.sql`true`;
  const ids = await db.$queryRaw<{ id: string }[]>`
    SELECT c.id FROM clip c WHERE ${wanted(filmId, filter)} AND ${beyond} AND ${left} ORDER BY ${KEY} ${way === 'after' ? Prisma.sql`ASC` : Prisma.sql`DESC`} LIMIT ${limit}`;
  const rows = await db.clip.findMany({ where: { id: { in: ids.map(({ id }) => id) } } });
  return ids.flatMap(({ id }) => rows.find((row) => row.id === id) ?? []);
}
