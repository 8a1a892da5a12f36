import type { Upload as UploadRow } from '#prisma';
import { ensureCard } from '../cards/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import { problemOf, type Refusal } from '../platform/errors.ts';
import { write, type Who } from '../platform/write.ts';
import type { Upload } from './contract.ts';
import type { Said } from './rules.ts';
import { toUpload } from './rows.ts';

/** Files that were sent and stand as asked for, oldest first. */
export async function listUploads(tx: Tx | Db, filmId: string, states: readonly Upload['state'][]): Promise<Upload[]> {
  return (await tx.upload.findMany({ where: { filmId, state: { in: [...states] } }, orderBy: [{ startedAt: 'asc' }, { id: 'asc' }] })).map(toUpload);
}

/** Whether the film has a clip of exactly these bytes, or the card this very file kept beside its clips. */
export async function isHere(db: Tx | Db, filmId: string, { bytes, xxh64, card, relativePath }: { bytes: number; xxh64: string; card: string; relativePath: string }): Promise<boolean> {
  const clip = await db.clip.findFirst({ where: { filmId, removedAt: null, xxh64, bytes }, select: { id: true } });
  return clip !== null || (await db.upload.findFirst({ where: { filmId, card, relativePath, bytes, state: 'arrived', keptPath: { not: null }, sums: { path: ['xxh64'], equals: xxh64 } }, select: { id: true } })) !== null;
}

/** Writes that a file is on its way. */
export async function beginUpload(db: Db, who: Who & { userId: string }, filmId: string, id: string, bytes: number | null, said: Said): Promise<UploadRow> {
  return write(db, who, filmId, async (tx) => {
    const { card, made } = said.card ? await ensureCard(tx, filmId, said.card) : { card: null, made: false };
    const row = await tx.upload.create({ data: { ...said, id, filmId, userId: who.userId, bytes, cardId: card?.id ?? null } });
    return { kind: 'upload.began', subject: id, rows: { ...(card && made ? { cards: [card] } : {}), uploads: [toUpload(row)] }, result: row };
  });
}

/** Notes a length that was not known at the start. */
export async function setBytes(db: Db, who: Who, { id, filmId }: { id: string; filmId: string }, bytes: number): Promise<void> {
  await write(db, who, filmId, async (tx) => {
    const row = await tx.upload.update({ where: { id }, data: { bytes } });
    return { kind: 'upload.measured', subject: id, rows: { uploads: [toUpload(row)] }, result: undefined };
  });
}

/** Writes that a file was not taken in, and why. */
export async function refuseUpload(db: Db, who: Who, { id, filmId }: { id: string; filmId: string }, refusal: Refusal): Promise<void> {
  const { code, detail } = problemOf(refusal);
  await write(db, who, filmId, async (tx) => {
    const row = await tx.upload.update({ where: { id }, data: { state: 'refused', refusal: { code, detail }, finishedAt: new Date() } });
    return { kind: 'upload.refused', subject: id, rows: { uploads: [toUpload(row)] }, result: undefined };
  });
}

/** Writes that a file will not come: taken back by its sender, or too old. */
export async function withdrawUpload(db: Db, who: Who, { id, filmId }: { id: string; filmId: string }): Promise<void> {
  await write(db, who, filmId, async (tx) => {
    const row = await tx.upload.update({ where: { id }, data: { state: 'withdrawn', finishedAt: new Date() } });
    return { kind: 'upload.withdrawn', subject: id, rows: { uploads: [toUpload(row)] }, result: undefined };
  });
}
