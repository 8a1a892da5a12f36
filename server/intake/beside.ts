// What belongs to a card and is no clip: sound, sidecars, stills, lists. It is kept at its place among the originals, so
// that "received" is true of the whole card; a list of checksums among it is read as one.
import { readFile } from 'node:fs/promises';
import type { Upload as UploadRow } from '#prisma';
import { looksLikeManifest, readFound, type GivenManifest } from '../cards/index.ts';
import { write, type Who } from '../platform/write.ts';
import type { Kept, Move } from './journal.ts';
import { settle, tellCard, type Intake, type Received } from './receive.ts';
import { toUpload } from './rows.ts';

/** Keeps a whole and checked file; going on from wherever an earlier try stopped. */
export async function keepBeside(intake: Intake, who: Who, upload: UploadRow, kept: Kept, ready: Move): Promise<Received> {
  const { db, jobs, storage } = intake.ground;
  const lost = intake.locks.lostOf(upload.id);
  const twin = ready.path ? null : await keptTwin(intake, upload, ready);
  lost.throwIfAborted();
  const path = twin?.keptPath ?? (await settle(intake, upload, kept, ready)).path;
  lost.throwIfAborted();
  const found = await listIn(storage.path('originals', path), upload, ready.bytes);
  await write(db, who, upload.filmId, async (tx) => {
    const closed = await tx.upload.update({
      where: { id: upload.id },
      data: { state: 'arrived', keptPath: path, bytes: ready.bytes, sums: { xxh64: ready.xxh64 }, finishedAt: new Date() },
    });
    const cards = await tellCard(tx, jobs, closed, found);
    return { kind: 'upload.kept', subject: upload.id, rows: { uploads: [toUpload(closed)], ...cards }, result: undefined };
  });
  return { clip: null, duplicate: twin !== null };
}

/** The same file of the same card, kept already: a card that is sent again is not stored again. */
const keptTwin = ({ ground: { db } }: Intake, { cardId, sourcePath }: UploadRow, { xxh64, bytes }: Move): Promise<UploadRow | null> =>
  db.upload.findFirst({ where: { cardId, sourcePath, bytes, state: 'arrived', keptPath: { not: null }, sums: { path: ['xxh64'], equals: xxh64 } } });

async function listIn(file: string, { name, sourcePath, userId }: UploadRow, bytes: number): Promise<GivenManifest | null> {
  if (!looksLikeManifest(sourcePath, bytes)) return null;
  return readFound({ name, bytes: await readFile(file), path: sourcePath, givenById: userId });
}
