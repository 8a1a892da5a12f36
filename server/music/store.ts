import type { Item as ItemRow, Mark as MarkRow, Tie as TieRow, Track as TrackRow } from '#prisma';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Mark, MarksChange, MarksChanged, NewMark, Tie, Track } from './contract.ts';
import { toMark, toTie, toTrack } from './rows.ts';
import { checkInTrack, type Found } from './rules.ts';

/** The tracks of a film, oldest first, without the removed ones. */
export async function listTracks(tx: Tx, filmId: string): Promise<Track[]> {
  return (await tx.track.findMany({ where: { filmId, removedAt: null }, orderBy: [{ receivedAt: 'asc' }, { id: 'asc' }] })).map(toTrack);
}

/** The marks of the film's tracks, without those removed, alone or with their track. */
export async function listMarks(tx: Tx, filmId: string): Promise<Mark[]> {
  return (await tx.mark.findMany({ where: { filmId, removedAt: null, track: { removedAt: null } }, orderBy: [{ atMs: 'asc' }, { id: 'asc' }] })).map(toMark);
}

/** The ties of a film; one whose line or mark is removed just now is among them and comes to light again with it. */
export async function listTies(tx: Tx, filmId: string): Promise<Tie[]> {
  return (await tx.tie.findMany({ where: { filmId, removedAt: null }, orderBy: { id: 'asc' } })).map(toTie);
}

/** First key of the advisory locks on the choice of a film's music; the second is a hash of the film's id. */
const CHOICE_LOCK = 7267;

/** The locked track or null, and nobody else locks or unlocks one of this film until the transaction ends. */
export async function holdChoice(tx: Tx, filmId: string): Promise<TrackRow | null> {
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(${CHOICE_LOCK}::int, hashtext(${filmId}))`;
  return tx.track.findFirst({ where: { filmId, locked: true, removedAt: null } });
}

/** A track of this film, removed or not, held until the transaction ends. @throws Refusal `not-found`. */
export async function lockTrack(tx: Tx, filmId: string, id: string): Promise<TrackRow> {
  await tx.$queryRaw`SELECT id FROM track WHERE id = ${id} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.track.findFirst({ where: { id, filmId } });
  if (!row) throw new Refusal('not-found', 'This film has no such track.');
  return row;
}

/** The same, of which a person may change something. @throws Refusal `removed-meanwhile` besides. */
export async function liveTrack(tx: Tx, filmId: string, id: string): Promise<TrackRow> {
  const row = await lockTrack(tx, filmId, id);
  if (row.removedAt) throw new Refusal('removed-meanwhile', 'The track was removed; restore it first.');
  return row;
}

/** The same, with its length, so that its moments can be spoken of. @throws Refusal `track-not-ready` besides. */
export async function heardTrack(tx: Tx, filmId: string, id: string): Promise<TrackRow & { lengthMs: number }> {
  const { lengthMs, ...row } = await liveTrack(tx, filmId, id);
  if (lengthMs === null) throw new Refusal('track-not-ready');
  return { ...row, lengthMs };
}

/**
 * Writes new marks of a track in one statement: a thousand by way of the client's own take seconds on a busy machine,
 * and the film waits meanwhile.
 * @param byId whose they are; null for the analysis.
 */
export async function insertMarks(tx: Tx, { id, filmId }: TrackRow, byId: string | null, marks: readonly (NewMark | Found)[]): Promise<MarkRow[]> {
  if (marks.length === 0) return [];
  return tx.$queryRaw<MarkRow[]>`
    INSERT INTO mark (id, film_id, track_id, kind, at_ms, until_ms, name, strength, confidence, in_bar, by_id)
    SELECT gen_random_uuid()::text, ${filmId}, ${id}, kind::"MarkKind", "atMs", "untilMs", coalesce(name, ''), strength, confidence, "inBar", ${byId}
    FROM jsonb_to_recordset(${JSON.stringify(marks)}::jsonb) AS new(kind text, "atMs" int, "untilMs" int, name text, strength float8, confidence float8, "inBar" int)
    RETURNING id, film_id AS "filmId", track_id AS "trackId", kind::text, at_ms AS "atMs", until_ms AS "untilMs", name, strength, confidence, in_bar AS "inBar",
      by_id AS "byId", removed_at AS "removedAt", removed_by_id AS "removedById"`;
}

/** Takes marks of a track away, brings some back and adds others; ties go and come with their marks. */
export async function changeMarks(tx: Tx, userId: string, track: TrackRow & { lengthMs: number }, { remove = [], restore = [], add = [] }: MarksChange): Promise<MarksChanged> {
  for (const [n, { atMs, untilMs = null }] of add.entries()) checkInTrack({ atMs, untilMs }, track.lengthMs, `add.${n}.`);
  const ofTrack = { trackId: track.id };
  const now = new Date();
  const gone = await tx.mark.findMany({ where: { ...ofTrack, id: { in: restore }, removedAt: { not: null } } });
  if (gone.length !== new Set(restore).size) throw new Refusal('not-found', 'Some of the marks to be brought back are there already, or were never in this track.');
  const untied = remove.length ? await tx.tie.updateManyAndReturn({ where: { markId: { in: remove }, mark: ofTrack, removedAt: null }, data: { removedAt: now } }) : [];
  const removed = remove.length ? await tx.mark.updateManyAndReturn({ where: { ...ofTrack, id: { in: remove }, removedAt: null }, data: { removedAt: now, removedById: userId } }) : [];
  if (removed.length !== new Set(remove).size) throw new Refusal('removed-meanwhile', 'Some of these marks are gone already. Look again, and try once more.');
  const retied = await tieAgain(tx, gone);
  const restored = restore.length ? await tx.mark.updateManyAndReturn({ where: { ...ofTrack, id: { in: restore } }, data: { removedAt: null, removedById: null } }) : [];
  const added = await insertMarks(tx, track, userId, add.map(({ name = '', ...mark }) => ({ ...mark, name: name.trim() })));
  return { removed: removed.map(toMark), restored: restored.map(toMark), added: added.map(toMark), ties: [...untied, ...retied].map(toTie) };
}

/** Ties that went with marks come back with them, except where the line was tied elsewhere meanwhile. */
async function tieAgain(tx: Tx, marks: readonly MarkRow[]): Promise<TieRow[]> {
  if (marks.length === 0) return [];
  const removedAt = new Map(marks.map((mark) => [mark.id, mark.removedAt!.getTime()]));
  const ties = await tx.tie.findMany({ where: { markId: { in: [...removedAt.keys()] }, removedAt: { not: null } } });
  const went = ties.filter((tie) => tie.removedAt!.getTime() === removedAt.get(tie.markId));
  const taken = new Set((await tx.tie.findMany({ where: { itemId: { in: went.map(({ itemId }) => itemId) }, removedAt: null } })).map(({ itemId }) => itemId));
  const back = went.filter(({ itemId }) => !taken.has(itemId)).map(({ id }) => id);
  return back.length ? tx.tie.updateManyAndReturn({ where: { id: { in: back } }, data: { removedAt: null } }) : [];
}

/** A mark of this film, held until the transaction ends. @throws Refusal `not-found`, `removed-meanwhile`. */
export async function liveMark(tx: Tx, filmId: string, id: string): Promise<MarkRow & { track: TrackRow }> {
  await tx.$queryRaw`SELECT id FROM mark WHERE id = ${id} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.mark.findFirst({ where: { id, filmId }, include: { track: true } });
  if (!row) throw new Refusal('not-found', 'This film has no such mark.');
  if (row.removedAt || row.track.removedAt) throw new Refusal('removed-meanwhile');
  return row;
}

/** A line of this film's outline, held until the transaction ends. @throws Refusal `not-found`, `removed-meanwhile`. */
export async function liveItem(tx: Tx, filmId: string, id: string): Promise<ItemRow> {
  await tx.$queryRaw`SELECT id FROM item WHERE id = ${id} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.item.findFirst({ where: { id, filmId } });
  if (!row) throw new Refusal('not-found', 'This film has no such line.');
  if (row.removedAt) throw new Refusal('removed-meanwhile');
  return row;
}

/** Brings back what went with a track when it was removed: nothing of it was changed, it only went out of sight. */
export async function marksOf(tx: Tx, trackId: string): Promise<{ marks: Mark[]; ties: Tie[] }> {
  const marks = await tx.mark.findMany({ where: { trackId, removedAt: null } });
  const ties = await tx.tie.findMany({ where: { mark: { trackId }, removedAt: null } });
  return { marks: marks.map(toMark), ties: ties.map(toTie) };
}
