import type { Ground } from '../platform/http.ts';
import { removeLeftovers, startWork, type Worker } from '../platform/claimed-work.ts';
import { countFaults } from './count-faults.ts';
import { makeProxy } from './make.ts';
import { markFailed, workerDied } from './outcome.ts';

const QUEUE = 'proxy';

export type ProxyWorker = Worker;

/** Makes proxies, `config.transcodes` at a time, until stopped. */
export async function startProxyWorker(ground: Ground): Promise<ProxyWorker> {
  const { db, config } = ground;
  await removeLeftovers(ground, {
    queue: QUEUE,
    area: 'proxies',
    async kept(id) {
      const clip = await db.clip.findUnique({ where: { id }, select: { state: true, proxyVersion: true } });
      return { known: clip !== null, version: clip?.state === 'ready' ? clip.proxyVersion : null };
    },
  });
  await countFaults(ground);
  return startWork(ground, {
    queue: QUEUE,
    subject: 'clipId',
    table: 'clip',
    concurrency: config.transcodes,
    run: (clipId, how) => makeProxy(ground, clipId, how),
    giveUp: (clipId) => markFailed(db, clipId, null, workerDied()),
  });
}
