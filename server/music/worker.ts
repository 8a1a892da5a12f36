import { rm } from 'node:fs/promises';
import type { Ground } from '../platform/http.ts';
import { removeLeftovers, startWork, type Worker } from '../platform/claimed-work.ts';
import { workerDied } from './failure.ts';
import { makeTrack } from './make.ts';
import { markFailed } from './outcome.ts';
import { ARRIVING, QUEUE, readMove } from './receive.ts';

/** Works on tracks, one at a time, until stopped. */
export async function startTrackWorker(ground: Ground): Promise<Worker> {
  const { db, storage } = ground;
  await removeLeftovers(ground, {
    queue: QUEUE,
    area: 'music',
    async kept(id) {
      if (id.startsWith(ARRIVING)) {
        // Died between moving a file in and writing its row: nobody was told that it arrived.
        const path = await readMove(storage, id);
        if (path !== null && (await db.track.count({ where: { originalPath: path } })) === 0) await rm(storage.path('originals', path), { force: true });
        return { known: false, version: null };
      }
      const track = await db.track.findUnique({ where: { id }, select: { state: true, version: true } });
      return { known: track !== null, version: track?.state === 'ready' ? track.version : null };
    },
  });
  return startWork(ground, {
    queue: QUEUE,
    subject: 'trackId',
    table: 'track',
    concurrency: 1,
    run: (trackId, how) => makeTrack(ground, trackId, how),
    giveUp: (trackId) => markFailed(db, trackId, workerDied()),
  });
}
