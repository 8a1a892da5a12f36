// One attempt at a proxy. It writes into a folder named for the attempt, which is its address from the first segment on;
// only after the check does the clip's row call it ready, so nobody takes half a proxy for a whole one.
import { randomUUID } from 'node:crypto';
import { faultFrames } from '#core/faults.ts';
import { clocksOf, holdClocks } from '../footage/index.ts';
import type { Progress } from '../live/contract.ts';
import type { Ground } from '../platform/http.ts';
import { passing } from '../platform/passing.ts';
import { encodeProxy } from './encode.ts';
import { failureOf, isPassing, type Stage } from './failure.ts';
import { columnsOf } from './measure.ts';
import { changeClip, markFailed } from './outcome.ts';
import { probe } from './probe.ts';

const REPORT_EVERY_MS = 500;

/**
 * Makes the proxy of a clip. To be called by who holds the clip (platform/claim.ts).
 * @param lastTry whether a failure that may pass counts as final, because nobody will try again.
 * @throws the signal's reason when stopped, and failures that may pass by themselves; others are told on the clip.
 */
export async function makeProxy(ground: Ground, clipId: string, { signal, lastTry }: { signal: AbortSignal; lastTry: boolean }): Promise<void> {
  const { db, storage, tools } = ground;
  const clip = await db.clip.findUnique({ where: { id: clipId } });
  if (!clip || clip.removedAt || clip.state === 'ready' || clip.state === 'failed') return;

  const version = randomUUID();
  const folder = `${clipId}/${version}`;
  const outDir = storage.path('proxies', folder);
  const source = storage.path('originals', clip.originalPath);
  // Who holds the clip is alone here: whatever lies in its folder was left by the dead.
  await storage.remove('proxies', clipId);
  const report = reporter(ground, { film: clip.filmId, clipId });
  let stage: Stage = 'probe';
  try {
    report({ stage, fraction: 0, etaSeconds: null, proxyVersion: null, framesReady: 0 });
    // An original that is gone is said as such, and not in ffprobe's words.
    await storage.size('originals', clip.originalPath);
    const measured = await probe(source, tools, signal);
    await changeClip(db, clipId, 'clip.measured', async (row, tx) => {
      if (row.state === 'ready') return null;
      await holdClocks(tx, row.filmId, { shared: true });
      return columnsOf(measured, row, await clocksOf(tx, row.filmId));
    });

    stage = 'proxy';
    let told: Promise<boolean> | null = null;
    const tellPlayable = () => (told ??= changeClip(db, clipId, 'clip.playable', (row) => (row.state === 'working' ? { proxyVersion: version } : null)));
    const made = await encodeProxy({
      source,
      probe: measured,
      outDir,
      tools,
      signal,
      // What goes wrong here goes wrong again below, where it is awaited.
      onPlayable: () => void tellPlayable().catch(() => {}),
      onProgress: ({ fraction, frames, etaSeconds }) => report({ stage, fraction, etaSeconds, proxyVersion: told ? version : null, framesReady: frames }),
    });
    await tellPlayable();

    stage = 'store';
    const ready = await changeClip(db, clipId, 'clip.ready', (row) =>
      row.state === 'working' && row.proxyVersion === version ? { state: 'ready', frames: made.frames, ...(made.traces ? { faults: faultFrames(made.traces, measured.rate) } : {}) } : null,
    );
    if (!ready) await storage.remove('proxies', folder);
  } catch (error) {
    await storage.remove('proxies', folder);
    signal.throwIfAborted();
    if (isPassing(error) && !lastTry) throw error;
    await markFailed(db, clipId, version, failureOf(error, stage));
  }
}

/** Tells how far a clip is, about twice a second and never two at once; what is missed the next one says better. */
function reporter({ db }: Ground, about: { film: string; clipId: string }): (progress: Omit<Progress, 'film' | 'clipId'>) => void {
  let last = 0;
  let underWay = false;
  return (progress) => {
    const now = Date.now();
    if (underWay || now - last < REPORT_EVERY_MS) return;
    last = now;
    underWay = true;
    void passing(db, { to: 'progress', ...about, ...progress })
      // Telling is not the job: a database that is gone fails the job where it matters.
      .catch(() => {})
      .finally(() => (underWay = false));
  };
}
