// One attempt at a track: the copy that plays, its wave, and what is heard in it, in a folder named for the attempt. Only
// when all is there and on the disk does the row name the folder, so nobody is given half of it.
import { randomUUID } from 'node:crypto';
import { mkdir, readdir } from 'node:fs/promises';
import { join } from 'node:path';
import type { Ground } from '../platform/http.ts';
import { passing } from '../platform/passing.ts';
import { sync } from '../platform/storage.ts';
import { isPassing } from '../proxies/index.ts';
import { analyseInWorker } from './analysis/index.ts';
import type { TrackFailure, TrackProgress } from './contract.ts';
import { WAVE_RATE } from './contract.ts';
import { decodeTrack, HEARD_FILE } from './decode.ts';
import { failureOf } from './failure.ts';
import { markFailed, markReady, markWorking } from './outcome.ts';

const REPORT_EVERY_MS = 500;
/** Share of the whole work that the decode is; the analysis is the rest. */
const DECODE_SHARE = 0.4;

/**
 * Works on a track. To be called by who holds its claim.
 * @param lastTry whether a failure that may pass counts as final, because nobody will try again.
 * @throws the signal's reason when stopped, and failures that may pass by themselves; others are told on the track.
 */
export async function makeTrack(ground: Ground, trackId: string, { signal, lastTry }: { signal: AbortSignal; lastTry: boolean }): Promise<void> {
  const { db, storage, tools } = ground;
  const track = await db.track.findUnique({ where: { id: trackId } });
  if (!track || track.removedAt || track.state === 'ready' || track.state === 'failed') return;
  const version = randomUUID();
  const folder = `${trackId}/${version}`;
  const dir = storage.path('music', folder);
  // Who holds the track is alone here: whatever lies in its folder was left by the dead.
  await storage.remove('music', trackId);
  const report = reporter(ground, { film: track.filmId, trackId });
  let stage: TrackFailure['stage'] = 'copy';
  try {
    await markWorking(db, trackId);
    report(stage, 0);
    // An original that is gone is said as such, and not in ffmpeg's words.
    await storage.size('originals', track.originalPath);
    await mkdir(dir, { recursive: true });
    const { samples } = await decodeTrack(storage.path('originals', track.originalPath), dir, { tools, signal, onFraction: (share) => report('copy', share * DECODE_SHARE) });
    const lengthMs = Math.max(1, Math.round((samples * 1000) / WAVE_RATE));

    stage = 'analysis';
    const analysis = await analyseInWorker(join(dir, HEARD_FILE), { signal, report: (share) => report('analysis', DECODE_SHARE + share * (1 - DECODE_SHARE)) });
    await storage.remove('music', `${folder}/${HEARD_FILE}`);

    stage = 'store';
    for (const name of await readdir(dir)) await sync(join(dir, name));
    await sync(dir);
    if (!(await markReady(db, trackId, { version, lengthMs, analysis }))) await storage.remove('music', folder);
  } catch (error) {
    await storage.remove('music', folder);
    signal.throwIfAborted();
    if (isPassing(error) && !lastTry) throw error;
    await markFailed(db, trackId, failureOf(error, stage));
  }
}

/** Tells how far a track is and how long it will take at this pace; what is missed the next one says better. */
function reporter({ db }: Ground, about: { film: string; trackId: string }): (stage: TrackProgress['stage'], fraction: number) => void {
  const began = Date.now();
  let last = 0;
  let underWay = false;
  return (stage, fraction) => {
    const now = Date.now();
    if (underWay || now - last < REPORT_EVERY_MS) return;
    last = now;
    underWay = true;
    const etaSeconds = fraction > 0 ? ((now - began) * (1 - fraction)) / fraction / 1000 : null;
    void passing(db, { to: 'track', ...about, stage, fraction, etaSeconds })
      // Telling is not the job: a database that is gone fails the job where it matters.
      .catch(() => {})
      .finally(() => (underWay = false));
  };
}
