// Finishing: from a file that lies whole in the incoming area to a clip, or to a refusal that is written down.
//   arriving -> (checked) -> journal names the place -> moved -> row, clip, job and event in one transaction -> arrived
//   arriving -> refused: row first, then the file goes
// What belongs to a card and is no clip (sound, sidecars, lists) is kept beside its clips in the same way, without a clip.
// Every step may be the last before a crash; doing it again goes on from where it stopped. Called with the upload's lock.
import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { Prisma, type Clip as ClipRow, type Upload as UploadRow } from '#prisma';
import { isClipName } from '#core/card-files.ts';
import { fileArrived, type GivenManifest } from '../cards/index.ts';
import { toClip } from '../footage/index.ts';
import type { Rows } from '../live/contract.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal, type ErrorCode } from '../platform/errors.ts';
import type { Ground } from '../platform/http.ts';
import { enqueue, type Jobs } from '../platform/jobs.ts';
import { write, type Who } from '../platform/write.ts';
import { keepBeside } from './beside.ts';
import { judge } from './judge.ts';
import { Journal, type Kept, type Move } from './journal.ts';
import { openLocks, type UploadLocks } from './locks.ts';
import { toUpload } from './rows.ts';
import { originalPath } from './rules.ts';
import { RunningHashes } from './running-hash.ts';
import { refuseUpload } from './store.ts';

/** What intake stands on besides the ground. */
export interface Intake {
  ground: Ground;
  locks: UploadLocks;
  journal: Journal;
  hashes: RunningHashes;
}

export function openIntake(ground: Ground): Intake {
  return { ground, locks: openLocks(ground.databaseUrl), journal: new Journal(ground.storage), hashes: new RunningHashes() };
}

export interface Received {
  /** Null for a file kept beside the clips of its card. */
  clip: ClipRow | null;
  /** The film had this file already; the new one was not kept. */
  duplicate: boolean;
}

/**
 * Takes in a file that has arrived whole; doing it twice ends the same.
 * @param id of the upload; its lock is held by the caller.
 * @throws Refusal with what is wrong with the file, which is then written on the upload and the file gone.
 */
export async function receive(intake: Intake, who: Who, id: string): Promise<Received> {
  const { db } = intake.ground;
  const upload = await db.upload.findUniqueOrThrow({ where: { id } });
  if (upload.state === 'arrived') return { clip: upload.clipId === null ? null : await db.clip.findUniqueOrThrow({ where: { id: upload.clipId } }), duplicate: false };
  if (upload.state !== 'arriving') throw new Refusal('upload-over');
  try {
    const kept = await intake.journal.get(id);
    if (!kept) throw new Refusal('wrong-length', 'Nothing of the file is here any more; send it again.');
    const ready = kept.move ?? (await check(intake, upload, kept));
    const received = ready.beside ? await keepBeside(intake, who, upload, kept, ready) : await takeAsClip(intake, who, upload, kept, ready);
    await intake.journal.clear(id);
    return received;
  } catch (error) {
    if (error instanceof Refusal && error.status !== 503) await refuse(intake, who, upload, error);
    throw error;
  }
}

/** Writes a refusal on the upload and takes its file away. */
export async function refuse(intake: Intake, who: Who, upload: { id: string; filmId: string }, refusal: Refusal): Promise<void> {
  intake.hashes.forget(upload.id);
  // On a full disk the database needs the room first.
  if (refusal.code === 'disk-full') await intake.ground.storage.remove('incoming', upload.id);
  await refuseUpload(intake.ground.db, who, upload, refusal);
  await intake.journal.clear(upload.id);
}

async function check({ ground, hashes }: Intake, upload: UploadRow, kept: Kept): Promise<Move> {
  const path = ground.storage.path('incoming', upload.id);
  const bytes = await ground.storage.size('incoming', upload.id);
  const ofCard = isOfCard(upload, kept);
  if (bytes === 0 && !ofCard) throw new Refusal('empty-file');
  if (bytes !== kept.size) throw new Refusal('wrong-length', `${kept.size} bytes were announced, ${bytes} arrived.`);
  const xxh64 = await hashes.digest(upload.id, path, bytes);
  if (upload.sourceXxh64 !== null && upload.sourceXxh64 !== xxh64) {
    throw new Refusal('wrong-checksum', `At the source the file had xxh64 ${upload.sourceXxh64}, what arrived has ${xxh64}. Send the file again.`);
  }
  const ready = { clipId: randomUUID(), path: '', xxh64, bytes };
  try {
    await judge(path, ground.tools);
    return ready;
  } catch (error) {
    const noClip = error instanceof Refusal && NO_CLIP.has(error.code);
    if (!ofCard || !noClip) throw error;
    return { ...ready, beside: true };
  }
}

/** Refusals that say what a file is not, as opposed to what is wrong with it. */
const NO_CLIP: ReadonlySet<ErrorCode> = new Set(['not-a-video', 'refused-format', 'empty-file']);

/** Whether a file is kept even when it is no clip: it is part of a card, whose every file counts, and is not called a clip. */
export const isOfCard = ({ cardId, name }: { cardId: string | null; name: string }, { onePiece }: Pick<Kept, 'onePiece'>): boolean => cardId !== null && !onePiece && !isClipName(name);

async function takeAsClip(intake: Intake, who: Who, upload: UploadRow, kept: Kept, ready: Move): Promise<Received> {
  const twin = await twinOf(intake, upload, ready);
  return twin ? closeAsTwin(intake, who, upload, twin) : moveAndRegister(intake, who, upload, kept, ready);
}

const twinOf = ({ ground: { db } }: Intake, { filmId }: UploadRow, { xxh64, bytes, clipId }: Move): Promise<ClipRow | null> =>
  db.clip.findFirst({ where: { filmId, xxh64, bytes, removedAt: null, id: { not: clipId } } });

async function closeAsTwin({ ground: { db, jobs } }: Intake, who: Who, { id, filmId, sourceXxh64 }: UploadRow, twin: ClipRow): Promise<Received> {
  return write(db, who, filmId, async (tx) => {
    const upload = await tx.upload.update({ where: { id }, data: { state: 'arrived', clipId: twin.id, sums: { xxh64: twin.xxh64 }, finishedAt: new Date() } });
    // The first sending may have come without a checksum made at the source; this one proves the same bytes.
    const proved = twin.sourceXxh64 === null && sourceXxh64 !== null;
    const clip = proved ? await tx.clip.update({ where: { id: twin.id }, data: { sourceXxh64 } }) : twin;
    const cards = await tellCard(tx, jobs, upload, null);
    return { kind: 'upload.duplicate', subject: twin.id, rows: { uploads: [toUpload(upload)], ...(proved ? { clips: [toClip(clip)] } : {}), ...cards }, result: { clip, duplicate: true } };
  });
}

async function moveAndRegister(intake: Intake, who: Who, upload: UploadRow, kept: Kept, ready: Move): Promise<Received> {
  const lost = intake.locks.lostOf(upload.id);
  lost.throwIfAborted();
  const move = await settle(intake, upload, kept, ready);
  lost.throwIfAborted();
  try {
    return { clip: await register(intake, who, upload, move), duplicate: false };
  } catch (error) {
    if (!(error instanceof Prisma.PrismaClientKnownRequestError && error.code === 'P2002')) throw error;
    // The same file came in by another way while this one was checked: the database lets only one of them be a clip.
    const twin = await twinOf(intake, upload, move);
    if (!twin) throw error;
    await intake.ground.storage.remove('originals', move.path);
    return closeAsTwin(intake, who, upload, twin);
  }
}

/** Puts the file in its place among the originals, going on from wherever an earlier try stopped. */
export async function settle(intake: Intake, upload: UploadRow, kept: Kept, ready: Move): Promise<Move> {
  const { ground: { storage, db }, journal, locks } = intake;
  const from = storage.path('incoming', upload.id);
  if (ready.path && (await storage.finishMove(from, 'originals', ready.path))) return ready;
  // One placing at a time in a film, so that two files of one name cannot both find the place free.
  return locks.during(`place:${upload.filmId}`, async () => {
    const film = await db.film.findUniqueOrThrow({ where: { id: upload.filmId } });
    const plain = originalPath(film, upload);
    const path = (await isFree(intake, plain)) ? plain : originalPath(film, upload, upload.id.slice(-8));
    const move = { ...ready, path };
    await journal.set(upload.id, { ...kept, move } as Kept);
    await storage.moveIn(from, 'originals', path);
    return move;
  });
}

async function isFree({ ground: { storage, db } }: Intake, path: string): Promise<boolean> {
  // A removed clip keeps its place, and so does one whose file is missing just now.
  return !existsSync(storage.path('originals', path)) && (await db.clip.count({ where: { originalPath: path } })) === 0 && (await db.upload.count({ where: { keptPath: path } })) === 0;
}

async function register({ ground: { db, jobs } }: Intake, who: Who, upload: UploadRow, { clipId, path, xxh64, bytes }: Move): Promise<ClipRow> {
  const { id, filmId, userId, name, camera, card, sourceXxh64 } = upload;
  return write(db, who, filmId, async (tx) => {
    const clip = await tx.clip.create({ data: { id: clipId, filmId, name, originalPath: path, bytes, xxh64, sourceXxh64, camera, card, byHand: saidBy({ camera, card }), uploadedById: userId } });
    const closed = await tx.upload.update({ where: { id }, data: { state: 'arrived', clipId, bytes, sums: { xxh64 }, finishedAt: new Date() } });
    await enqueue(jobs, tx, 'proxy', { clipId });
    const cards = await tellCard(tx, jobs, closed, null);
    return { kind: 'clip.received', subject: clipId, rows: { clips: [toClip(clip)], uploads: [toUpload(closed)], ...cards }, result: clip };
  });
}

/** What the sender said of a clip counts as set by a person. */
const saidBy = (said: { camera: string; card: string }): string[] => (['camera', 'card'] as const).filter((fact) => said[fact] !== '');

/** The lists of a card hear of every file that arrives. @returns the card as a row of the event, when it changed. */
export async function tellCard(tx: Tx, jobs: Jobs, { filmId, cardId }: UploadRow, found: GivenManifest | null): Promise<Rows> {
  const card = cardId === null ? null : await fileArrived(tx, jobs, { filmId, cardId }, found);
  return card ? { cards: [card] } : {};
}
