// How a list gets to a card: given by a person or a sender, or found among the card's own files.
import { createHash } from 'node:crypto';
import type { Prisma } from '#prisma';
import { isHistoryFile, isManifestName } from '#core/card-files.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import { enqueue, type Jobs } from '../platform/jobs.ts';
import type { Card } from './contract.ts';
import { MANIFEST_BYTES, readManifest } from './manifest.ts';
import { cardOf } from './store.ts';

export const QUEUE = 'manifest';

export interface Given {
  name: string;
  bytes: Buffer;
  /** Its path on the card when it was found there. */
  path: string | null;
  givenById: string;
}

/** The columns of a list that was read, or of one that could not be. */
export type GivenManifest = Omit<Prisma.ManifestUncheckedCreateInput, 'filmId' | 'cardId'>;

/** Reads a list that somebody gave. Throws as `readManifest`. */
export function readGiven({ name, bytes, path, givenById }: Given): GivenManifest {
  const { format, madeAt, ignores, entries } = readManifest(bytes);
  const asksMore = entries.some(({ sums }) => sums.some(({ kinds }) => kinds.join() !== 'xxh64'));
  return { ...headOf({ name, bytes, path, givenById }), format, madeAt, ignores, entries: entries as unknown as Prisma.InputJsonArray, files: entries.length, asksMore, state: asksMore ? 'received' : 'ready' };
}

/** Whether a file of a card is worth reading as a list. */
export function looksLikeManifest(path: string, bytes: number): boolean {
  return isManifestName(path) && bytes <= MANIFEST_BYTES;
}

/**
 * Reads a list found among the files of a card.
 * @returns null when it is of a kind not known here, which a card may hold; a list that is damaged is told as failed.
 */
export function readFound(given: Given): GivenManifest | null {
  try {
    return readGiven(given);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    if (error.code === 'manifest-unknown') return null;
    const failure = { code: error.code, reason: error.message };
    return { ...headOf(given), format: given.name.endsWith('.mhl') ? 'ascmhl' : 'list', text: '', ignores: [], entries: [], files: 0, asksMore: false, state: 'failed', failure };
  }
}

function headOf({ name, bytes, path, givenById }: Given): { name: string; text: string; sha256: string; root: string | null; generation: number; givenById: string } {
  const folders = path?.split('/').slice(0, -1) ?? [];
  // A history lies in a folder of its own, and speaks of the one around it (ASC MHL v1.0, 5.2).
  if (path !== null && isHistoryFile(path)) folders.pop();
  const generation = Number(/^(\d{4})_/.exec(name)?.[1] ?? 0);
  const sha256 = createHash('sha256').update(bytes).digest('hex');
  return { name, text: bytes.toString('utf8'), sha256, root: path === null ? null : folders.join('/'), generation, givenById };
}

/** Puts a list to a card, with the work it makes necessary. @returns null when the card has the very same list. */
export async function addManifest(tx: Tx, jobs: Jobs, { filmId, cardId }: { filmId: string; cardId: string }, given: GivenManifest): Promise<string | null> {
  const twin = await tx.manifest.findFirst({ where: { cardId, sha256: given.sha256, removedAt: null }, select: { id: true } });
  if (twin) return null;
  const { id } = await tx.manifest.create({ data: { ...given, filmId, cardId }, select: { id: true } });
  if (given.state === 'received') await enqueue(jobs, tx, QUEUE, { manifestId: id });
  return id;
}

/**
 * To be called in the transaction in which a file of a card arrives: lists that ask for other checksums get their work.
 * @returns the card when something of it changed.
 */
export async function fileArrived(tx: Tx, jobs: Jobs, { filmId, cardId }: { filmId: string; cardId: string }, found: GivenManifest | null): Promise<Card | null> {
  // A list that is being worked on looks for new files before it ends: the lock makes one of the two come first.
  const asking = await tx.$queryRaw<{ id: string; state: string }[]>`
    SELECT id, state::text AS state FROM manifest WHERE card_id = ${cardId} AND asks_more AND state <> 'failed' AND removed_at IS NULL ORDER BY id FOR UPDATE`;
  const idle = asking.filter(({ state }) => state === 'ready');
  for (const { id } of idle) {
    await tx.manifest.update({ where: { id }, data: { state: 'received' }, select: { id: true } });
    await enqueue(jobs, tx, QUEUE, { manifestId: id });
  }
  const added = found && (await addManifest(tx, jobs, { filmId, cardId }, found));
  return idle.length || added ? cardOf(tx, filmId, cardId) : null;
}
