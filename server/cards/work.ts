// Lists that ask for other checksums than xxh64: what arrived is read once more and given those.
//   received -> working -> ready | failed; ready -> received when another file arrives
import type { Manifest as ManifestRow, Prisma } from '#prisma';
import { pathKey } from '#core/card-files.ts';
import { startWork, type Worker } from '../platform/claimed-work.ts';
import type { Db } from '../platform/db.ts';
import type { Ground } from '../platform/http.ts';
import { passing } from '../platform/passing.ts';
import { write } from '../platform/write.ts';
import { expectedOf, lackingKinds } from './compare.ts';
import { QUEUE } from './give.ts';
import { cardOf, listsOf, lockManifest, sentOf, toArrival } from './store.ts';
import { sumsOf, type Kind, type Sums } from './sums.ts';

const REPORT_EVERY_MS = 500;
const SAVE_EVERY_MS = 2000;
const SAVED_AT_ONCE = 200;
/** Changes of this kind are nobody's but the server's. */
const SERVER = { userId: null, client: null };

/** Makes the checksums that lists ask for, one card at a time, until stopped. */
export async function startManifestWorker(ground: Ground): Promise<Worker> {
  return startWork(ground, {
    queue: QUEUE,
    subject: 'manifestId',
    table: 'manifest',
    concurrency: 1,
    run: (id, how) => makeSums(ground, id, how),
    giveUp: (id) => fail(ground.db, id, 'The work on this list was ended from outside too often. Put the list aside and give it again.'),
  });
}

interface Lacking {
  uploadId: string;
  path: string;
  bytes: number;
  kinds: Kind[];
}

interface Made {
  id: string;
  sums: Sums;
}

/** @throws the signal's reason when stopped, and what may pass by itself; a file that cannot be read is told on the list. */
async function makeSums(ground: Ground, id: string, { signal, lastTry }: { signal: AbortSignal; lastTry: boolean }): Promise<void> {
  const { db, storage } = ground;
  const manifest = await changeState(db, id, (row) => (row.state === 'received' ? { state: 'working' } : null));
  if (!manifest || manifest.removedAt || manifest.state !== 'working') return;
  const made: Made[] = [];
  let saved = Date.now();
  try {
    do {
      const lacking = await lackingOf(ground, manifest);
      const tell = reporter(db, manifest, lacking.reduce((sum, { bytes }) => sum + bytes, 0));
      for (const { uploadId, path, kinds } of lacking) {
        const sums = await sumsOf(storage.openRange('originals', path), kinds, (bytes) => {
          signal.throwIfAborted();
          tell(bytes);
        });
        made.push({ id: uploadId, sums });
        if (made.length >= SAVED_AT_ONCE || Date.now() - saved > SAVE_EVERY_MS) {
          await save(db, made.splice(0));
          saved = Date.now();
        }
      }
      await save(db, made.splice(0));
    } while (!(await finish(ground, id)));
  } catch (error) {
    signal.throwIfAborted();
    if (!lastTry) throw error;
    await fail(db, id, `A file of the card could not be read: ${(error as Error).message}`);
  }
}

/** One statement for many small files, and soon after every large one, so that a worker that dies has lost little. */
async function save(db: Db, made: Made[]): Promise<void> {
  if (made.length) await db.$executeRaw`UPDATE upload SET sums = upload.sums || one.sums FROM jsonb_to_recordset(${JSON.stringify(made)}::jsonb) AS one(id text, sums jsonb) WHERE upload.id = one.id`;
}

/** Ends the work, unless a file came in that lacks a checksum. */
async function finish(ground: Ground, id: string): Promise<boolean> {
  const ended = await changeState(ground.db, id, async (row) => ((await lackingOf(ground, row)).length ? null : { state: 'ready' }));
  return ended?.state !== 'working';
}

async function lackingOf({ db }: Ground, { id, cardId }: Pick<ManifestRow, 'id' | 'cardId'>): Promise<Lacking[]> {
  const sent = await sentOf(db, cardId);
  const arrivals = sent.map(toArrival);
  const lists = (await listsOf(db, cardId)).filter((list) => list.id === id);
  const expected = expectedOf(lists, arrivals);
  return sent.flatMap((upload, n) => {
    const arrival = arrivals[n]!;
    const one = expected.get(pathKey(arrival.path));
    const kinds = one ? lackingKinds(one, arrival) : [];
    const path = upload.keptPath ?? upload.clip?.originalPath;
    return kinds.length && path ? [{ uploadId: upload.id, path, bytes: arrival.bytes ?? 0, kinds }] : [];
  });
}

const fail = (db: Db, id: string, reason: string): Promise<unknown> =>
  changeState(db, id, ({ state }) => (state === 'received' || state === 'working' ? { state: 'failed', failure: { code: 'unreadable', reason } } : null));

/** Changes a list if `decide` says how, and tells the film. @returns the list as it stands afterwards; null when it is gone. */
async function changeState(db: Db, id: string, decide: (row: ManifestRow) => Prisma.ManifestUpdateInput | null | Promise<Prisma.ManifestUpdateInput | null>): Promise<ManifestRow | null> {
  const before = await db.manifest.findUnique({ where: { id }, select: { filmId: true } });
  if (!before) return null;
  class Unchanged extends Error {}
  try {
    return await write(db, SERVER, before.filmId, async (tx) => {
      const row = await lockManifest(tx, id);
      const data = row && (await decide(row));
      // A transaction that numbers no event must not commit.
      if (!row || !data) throw new Unchanged();
      const changed = await tx.manifest.update({ where: { id }, data });
      return { kind: `manifest.${changed.state}`, subject: id, rows: { cards: [await cardOf(tx, row.filmId, row.cardId)] }, result: changed };
    });
  } catch (error) {
    if (!(error instanceof Unchanged)) throw error;
    return db.manifest.findUnique({ where: { id } });
  }
}

/** Tells how far the reading is, about twice a second. */
function reporter(db: Db, { filmId, cardId }: ManifestRow, total: number): (bytes: number) => void {
  const began = Date.now();
  let done = 0;
  let last = began;
  return (bytes) => {
    done += bytes;
    const now = Date.now();
    if (now - last < REPORT_EVERY_MS) return;
    last = now;
    const fraction = total ? done / total : 1;
    const etaSeconds = Math.round(((now - began) / 1000) * (1 / fraction - 1));
    // Telling is not the job.
    passing(db, { to: 'card', film: filmId, cardId, fraction, etaSeconds }).catch(() => {});
  };
}
