import { budgetOf } from '#core/budget.ts';
import { outlineOrder, sequenceOf } from '#core/outline.ts';
import { entriesOf, laidOut } from '#core/string-out.ts';
import { toFilm } from '../films/index.ts';
import { listItems } from '../outline/index.ts';
import { originalOf, type OriginalOf } from '../originals/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { InputClearance, InputClip, InputNote, InputTrack, TurnoverInput } from './input.ts';

/** All that a turnover is made of, read as of one moment. */
export const readInput = (db: Db, filmId: string): Promise<TurnoverInput> => db.$transaction((tx) => inputOf(tx, filmId), { isolationLevel: 'RepeatableRead' });

/** The same within a transaction. */
export async function inputOf(tx: Tx, filmId: string): Promise<TurnoverInput> {
  const row = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
  const film = toFilm(row);
  const newest = await tx.event.findFirst({ where: { filmId }, orderBy: { seq: 'desc' }, select: { at: true } });
  const nameOf = await readNames(tx, filmId);
  const clips = await readClips(tx, filmId);
  const clipById = new Map(clips.map((clip) => [clip.id, clip]));
  const placeOfClip = new Map(clips.map(({ id }, place) => [id, place]));

  const lines = outlineOrder(await listItems(tx, filmId));
  const budget = budgetOf(lines, film.targetFrames, film.rate);
  // Of a clip that is gone, or has lost its measure, nothing can play.
  const offers = (await tx.offer.findMany({ where: { filmId, removedAt: null }, orderBy: [{ slotId: 'asc' }, { orderKey: 'asc' }, { id: 'asc' }] })).filter(({ clipId }) => clipById.get(clipId)?.rate);
  const stretches = laidOut(entriesOf(lines, offers, budget), (clipId) => clipById.get(clipId)!.rate!, film.rate);

  const selects = (await tx.select.findMany({ where: { filmId, removedAt: null } })).filter(({ clipId }) => clipById.get(clipId)?.rate);
  return {
    film: { id: filmId, title: film.title, rate: film.rate, drop: film.dropFrame, invented: film.invented, handles: film.handleFrames, seq: row.lastSeq, at: (newest?.at ?? row.createdAt).toISOString() },
    lines: lines.map((line) => {
      const { id, kind, name, mustShow, comesIn, goesOut } = line.row;
      return { id, kind, label: line.label, depth: line.depth, name, sequence: sequenceOf(line).row.name, mustShow, comesIn, goesOut, frames: budget.lines.get(id)?.frames ?? 0 };
    }),
    stretches,
    clips,
    selects: selects
      .map(({ id, clipId, in: first, outExclusive, circled, label, madeById, madeAt }) => ({ id, clipId, in: first, outExclusive, circled, label, by: nameOf(madeById), at: madeAt.toISOString() }))
      .sort((a, b) => placeOfClip.get(a.clipId)! - placeOfClip.get(b.clipId)! || a.in - b.in || a.outExclusive - b.outExclusive || (a.id < b.id ? -1 : 1)),
    offers: offers.map(({ id, slotId, selectId, clipId, in: first, outExclusive, verdict, reason, decidedById, decidedAt, cutInAt }) => ({
      id,
      slotId,
      selectId,
      clipId,
      in: first,
      outExclusive,
      verdict,
      reason,
      decidedBy: decidedById && nameOf(decidedById),
      decidedAt: decidedAt?.toISOString() ?? null,
      cutInAt: cutInAt?.toISOString() ?? null,
    })),
    notes: await readNotes(tx, filmId, nameOf),
    track: await readTrack(tx, filmId),
    clearances: await readClearances(tx, filmId),
    letGo: (await tx.letGo.findMany({ where: { filmId }, orderBy: [{ at: 'asc' }, { key: 'asc' }] })).map(({ key, why, byId, at }) => ({ key, why, by: nameOf(byId), at: at.toISOString() })),
  };
}

/** Permits and releases in the order they were written down. */
export async function readClearances(tx: Tx | Db, filmId: string): Promise<InputClearance[]> {
  const rows = await tx.clearance.findMany({ where: { filmId, removedAt: null }, orderBy: [{ kind: 'asc' }, { madeAt: 'asc' }, { id: 'asc' }] });
  // Checks of the database keep both to their words.
  return rows.map(({ id, kind, name, state, words }) => ({ id, kind: kind as InputClearance['kind'], name, state: state as InputClearance['state'], words }));
}

async function readNames(tx: Tx, filmId: string): Promise<(userId: string) => string> {
  // People who left the film still wrote what they wrote.
  const rows = await tx.$queryRaw<{ id: string; name: string }[]>`
    SELECT id, name FROM "user" WHERE id IN (
      SELECT author_id FROM note WHERE film_id = ${filmId} UNION SELECT made_by_id FROM "select" WHERE film_id = ${filmId}
      UNION SELECT decided_by_id FROM offer WHERE film_id = ${filmId} UNION SELECT by_id FROM let_go WHERE film_id = ${filmId})`;
  const names = new Map(rows.map(({ id, name }) => [id, name]));
  return (userId) => names.get(userId) ?? 'Somebody who has left';
}

interface ClipColumns extends Omit<InputClip, 'rate' | 'original' | 'bytes'> {
  num: number | null;
  den: number | null;
  bytes: bigint;
}

async function readClips(tx: Tx, filmId: string): Promise<InputClip[]> {
  const originals: ReadonlyMap<string, OriginalOf | 'own'> = await originalOf(tx, filmId);
  const rows = await tx.$queryRaw<ClipColumns[]>`
    SELECT clip.id, clip.name, camera, clip.card, card.id AS "cardId", shoot_day::text AS "shootDay", location, rate_num AS num, rate_den AS den, variable_rate AS "variableRate", frames,
      start_frame AS "startFrame", drop_frame AS drop, coalesce(probe->>'startTimecode', '') <> '' AS labelled, width, height, audio_channels AS "audioChannels", reel, bytes, xxh64, aside_reason AS aside
    FROM clip LEFT JOIN card ON card.film_id = clip.film_id AND card.name = clip.card
    WHERE clip.film_id = ${filmId} AND removed_at IS NULL
    ORDER BY footage_key(shoot_day, camera, captured_at, start_frame, rate_num, rate_den, clip.name, clip.id) COLLATE "C"`;
  return rows.map(({ num, den, bytes, ...row }) => ({ ...row, rate: num && den ? { num, den } : null, bytes: Number(bytes), original: originals.get(row.id) ?? null }));
}

async function readNotes(tx: Tx, filmId: string, nameOf: (userId: string) => string): Promise<InputNote[]> {
  const rows = await tx.note.findMany({ where: { filmId, removedAt: null }, orderBy: [{ writtenAt: 'asc' }, { id: 'asc' }] });
  const said = ({ text, authorId, writtenAt }: (typeof rows)[number]) => ({ text, by: nameOf(authorId), at: writtenAt.toISOString() });
  const replies = Map.groupBy(rows, ({ parentId }) => parentId);
  return (replies.get(null) ?? []).map((row) => ({
    ...said(row),
    id: row.id,
    clipId: row.clipId,
    offerId: row.offerId,
    slotId: row.slotId,
    range: row.in === null || row.outExclusive === null ? null : { in: row.in, outExclusive: row.outExclusive },
    settled: row.settledAt !== null,
    replies: (replies.get(row.id) ?? []).map(said),
  }));
}

async function readTrack(tx: Tx, filmId: string): Promise<InputTrack | null> {
  const track = await tx.track.findFirst({ where: { filmId, locked: true, removedAt: null } });
  if (!track) return null;
  const marks = await tx.mark.findMany({ where: { trackId: track.id, removedAt: null }, orderBy: [{ atMs: 'asc' }, { id: 'asc' }] });
  const { id, name, title, maker, licence, rights, bytes, xxh64, lengthMs } = track;
  return {
    ...{ id, name, title, maker, licence, rights: rights as InputTrack['rights'], bytes: Number(bytes), xxh64, lengthMs },
    marks: marks.map((mark) => ({ id: mark.id, kind: mark.kind, atMs: mark.atMs, untilMs: mark.untilMs, name: mark.name })),
  };
}
