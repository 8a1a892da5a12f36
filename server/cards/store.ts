import type { Clip as ClipRow, Manifest as ManifestRow, Upload as UploadRow } from '#prisma';
import type { Db, Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Arrival, Elsewhere, List } from './compare.ts';
import type { Card, CardCount } from './contract.ts';
import type { Entry } from './manifest.ts';
import { MANIFEST_COLUMNS, toCard } from './rows.ts';
import type { Sums } from './sums.ts';

const HEADS = { manifests: { where: { removedAt: null }, select: MANIFEST_COLUMNS, orderBy: [{ givenAt: 'asc' as const }, { id: 'asc' as const }] } };

/** The cards of a film in the order they came. */
export async function listCards(tx: Tx | Db, filmId: string): Promise<Card[]> {
  return (await tx.card.findMany({ where: { filmId }, include: HEADS, orderBy: [{ createdAt: 'asc' }, { id: 'asc' }] })).map(toCard);
}

/** How many files of each card are here and on their way, in any order. */
export async function countFiles(tx: Tx | Db, filmId: string): Promise<CardCount[]> {
  return tx.$queryRaw<CardCount[]>`
    SELECT card_id AS "cardId", count(*) FILTER (WHERE state = 'arrived' AND kept_path IS NULL)::int AS clips, count(*) FILTER (WHERE state = 'arrived' AND kept_path IS NOT NULL)::int AS beside,
      count(*) FILTER (WHERE state = 'arriving')::int AS arriving
    FROM upload WHERE film_id = ${filmId} AND card_id IS NOT NULL GROUP BY card_id`;
}

/** One card as it is sent. @throws Refusal `not-found` when the film has no such card. */
export async function cardOf(tx: Tx | Db, filmId: string, cardId: string): Promise<Card> {
  const row = await tx.card.findFirst({ where: { id: cardId, filmId }, include: HEADS });
  if (!row) throw new Refusal('not-found');
  return toCard(row);
}

/** The card of a name, made when there is none. @returns it, and whether it was made just now. */
export async function ensureCard(tx: Tx, filmId: string, name: string): Promise<{ card: Card; made: boolean }> {
  // Two files of one new card may begin at once: whoever comes second waits here for the first.
  const made = await tx.$executeRaw`INSERT INTO card (id, film_id, name) VALUES (gen_random_uuid()::text, ${filmId}, ${name}) ON CONFLICT (film_id, name) DO NOTHING`;
  const row = await tx.card.findUniqueOrThrow({ where: { filmId_name: { filmId, name } }, include: HEADS });
  return { card: toCard(row), made: made > 0 };
}

/** Locks a list until the transaction ends. @returns null when it is gone. */
export async function lockManifest(tx: Tx, id: string): Promise<ManifestRow | null> {
  await tx.$queryRaw`SELECT id FROM manifest WHERE id = ${id} FOR UPDATE`;
  return tx.manifest.findUnique({ where: { id } });
}

/** The readable lists of a card, as they are compared. */
export async function listsOf(tx: Tx | Db, cardId: string): Promise<List[]> {
  const rows = await tx.manifest.findMany({
    where: { cardId, removedAt: null, state: { not: 'failed' } },
    select: { id: true, name: true, format: true, root: true, generation: true, madeAt: true, ignores: true, entries: true },
    orderBy: [{ generation: 'asc' }, { madeAt: { sort: 'asc', nulls: 'first' } }, { id: 'asc' }],
  });
  return rows.map(({ id, name, format, root, ignores, entries }, n) => ({ id, name, format: format as List['format'], root, generation: n, ignores, entries: entries as unknown as Entry[] }));
}

type Sent = UploadRow & { clip: Pick<ClipRow, 'bytes' | 'originalPath' | 'removedAt'> | null };

/** What was sent of a card, oldest first; what was taken back is left out. */
export async function sentOf(tx: Tx | Db, cardId: string): Promise<Sent[]> {
  const uploads = await tx.upload.findMany({ where: { cardId, state: { not: 'withdrawn' } }, orderBy: [{ startedAt: 'asc' }, { id: 'asc' }] });
  const ids = uploads.flatMap(({ clipId }) => clipId ?? []);
  const clips = new Map((await tx.clip.findMany({ where: { id: { in: ids } }, select: { id: true, bytes: true, originalPath: true, removedAt: true } })).map((clip) => [clip.id, clip]));
  return uploads.map((upload) => ({ ...upload, clip: clips.get(upload.clipId ?? '') ?? null }));
}

export function toArrival(row: Sent): Arrival {
  const bytes = row.clip?.bytes ?? row.bytes;
  return {
    uploadId: row.id,
    path: row.sourcePath,
    state: row.state as Arrival['state'],
    bytes: bytes === null ? null : Number(bytes),
    sums: row.sums as Sums,
    clipId: row.clip && !row.clip.removedAt ? row.clipId : null,
    refusal: (row.refusal as { detail: string } | null)?.detail ?? null,
    checkedBySender: row.sourceXxh64 !== null && row.sourceXxh64 === (row.sums as Sums).xxh64,
  };
}

/** Which of these xxh64 are in the film at all: as clips, or as files kept beside them. */
export async function elsewhere(tx: Tx | Db, filmId: string, xxh64: string[]): Promise<Elsewhere> {
  const [clips, kept] = await Promise.all([
    tx.clip.findMany({ where: { filmId, xxh64: { in: xxh64 } }, select: { id: true, name: true, xxh64: true, bytes: true, removedAt: true } }),
    tx.$queryRaw<{ name: string; bytes: bigint; xxh64: string }[]>`
      SELECT name, bytes, sums->>'xxh64' AS xxh64 FROM upload WHERE film_id = ${filmId} AND kept_path IS NOT NULL AND state = 'arrived' AND sums->>'xxh64' = ANY(${xxh64})`,
  ]);
  const all = [...kept.map((one) => ({ ...one, clipId: null })), ...clips.map((one) => ({ ...one, clipId: one.removedAt ? null : one.id }))];
  return new Map(all.map(({ xxh64: sum, name, clipId, bytes }) => [sum, { name, clipId, bytes: Number(bytes) }]));
}
