// Makes the newest string-out of a film: what is missing of it, and its sound. What changes meanwhile is in the next round.
import { stat } from 'node:fs/promises';
import { startWork, type Worker } from '../platform/claimed-work.ts';
import { FfmpegFailed } from '../platform/ffmpeg.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { Ground } from '../platform/http.ts';
import { enqueue } from '../platform/jobs.ts';
import { passing } from '../platform/passing.ts';
import { isThere, makePiece, PieceUnsound, pieceFolder } from './pieces.ts';
import { planOf, type Plan } from './plan.ts';
import { makeSound, soundFolder } from './sound.ts';
import { keepFailed, keepVersion, readFailed } from './store.ts';

export const QUEUE = 'string-out';
/** What no version needs any more stays so long: somebody may be playing it, or bring it back. */
const KEPT_MS = 24 * 3600 * 1000;
/** A film that changes all the time is not made for ever in one job. */
const ROUNDS = 20;

/** Makes string-outs, one at a time, until stopped. */
export function startStringOutWorker(ground: Ground): Promise<Worker> {
  return startWork(ground, { queue: QUEUE, subject: 'filmId', table: null, concurrency: 1, run: (filmId, { signal }) => makeStringOut(ground, filmId, signal), giveUp: async () => {} });
}

/** Asks for the newest string-out to be made, unless that is asked for already. The lock is another one than the claim of who makes it. */
export async function askForStringOut({ db, jobs }: Pick<Ground, 'jobs'> & { db: Db }, filmId: string): Promise<void> {
  await db.$transaction(async (tx: Tx) => {
    await tx.$queryRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`string-out asked:${filmId}`}, 0))::text`;
    const [{ asked } = { asked: false }] = await tx.$queryRaw<{ asked: boolean }[]>`SELECT EXISTS (SELECT FROM jobs.job WHERE name = ${QUEUE} AND state < 'active' AND data->>'filmId' = ${filmId}) AS asked`;
    if (!asked) await enqueue(jobs, tx, QUEUE, { filmId });
  });
}

/** Pieces of a plan that are not there. */
export async function missingOf(ground: Ground, filmId: string, { pieces }: Plan): Promise<Plan['pieces']> {
  const there = await Promise.all(pieces.map(({ name }) => isThere(ground, filmId, name)));
  return pieces.filter((_, n) => !there[n]);
}

/** @throws the signal's reason, and failures that may pass by themselves. */
export async function makeStringOut(ground: Ground, filmId: string, signal: AbortSignal): Promise<void> {
  const { db, storage } = ground;
  const film = { where: { id: filmId }, select: { lastSeq: true, stringOut: { select: { version: true } } } } as const;
  for (let round = 0; round < ROUNDS; round++) {
    const failed = await readFailed(ground, filmId);
    const plan = await planOf(db, filmId, failed);
    const missing = await missingOf(ground, filmId, plan);
    const total = plan.pieces.length;
    const isOld = async (): Promise<boolean> => ((await db.film.findUnique(film))?.lastSeq ?? -1) !== plan.seq;
    let left = missing.length;
    for (const piece of missing) {
      signal.throwIfAborted();
      try {
        await makePiece(ground, filmId, piece, signal);
      } catch (error) {
        if (signal.aborted || !(error instanceof PieceUnsound || (error instanceof FfmpegFailed && !error.killedBy))) throw error;
        // It would fail again: a card says so in its place, and the film plays.
        await keepFailed(ground, filmId, new Set([...failed, piece.name]));
        break;
      }
      left -= 1;
      await passing(db, { to: 'string-out', film: filmId, version: null, ready: total - left, total });
      if (await isOld()) break;
    }
    if (left > 0 || (await isOld())) continue;
    if (plan.frames > 0) {
      const sound = storage.path('string-outs', soundFolder(filmId, plan.sound.name));
      try {
        if (!(await stat(sound).then(() => true, () => false))) await makeSound(ground, filmId, plan, signal);
      } catch (error) {
        if (signal.aborted || !(error instanceof FfmpegFailed) || error.killedBy || !plan.sound.track) throw error;
        // The film plays without its music, and says so.
        await keepFailed(ground, filmId, new Set([...failed, plan.sound.name]));
        continue;
      }
    }
    await keepVersion(ground, filmId, plan);
    await db.stringOut.upsert({ where: { filmId }, create: { filmId, version: plan.version }, update: { version: plan.version } });
    await passing(db, { to: 'string-out', film: filmId, version: plan.version, ready: total, total });
    await removeOld(ground, filmId, plan);
    if (!(await isOld())) return;
  }
}

/** Removes pieces and sounds that the newest version does not need and nobody has asked for in a day. */
async function removeOld({ storage }: Ground, filmId: string, plan: Plan): Promise<void> {
  const needed = new Set([...plan.pieces.map(({ name }) => pieceFolder(filmId, name)), soundFolder(filmId, plan.sound.name), `${filmId}/versions/${plan.version}.json`]);
  for (const kind of ['pieces', 'sound', 'versions']) {
    for (const name of await storage.list('string-outs', `${filmId}/${kind}`)) {
      const path = `${filmId}/${kind}/${name}`;
      if (needed.has(path)) continue;
      const { mtimeMs } = await stat(storage.path('string-outs', path));
      if (Date.now() - mtimeMs > KEPT_MS) await storage.remove('string-outs', path);
    }
  }
}
