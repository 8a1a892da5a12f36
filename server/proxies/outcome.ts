// How the making of a proxy ends on the clip's row. Each step checks that the clip is still this attempt's: an attempt
// that was given up for dead and taken up elsewhere finds another version there, or none, and goes away quietly.
import { Prisma, type Clip as ClipRow } from '#prisma';
import { toClip } from '../footage/index.ts';
import type { ClipFailure } from '../footage/contract.ts';
import type { Db, Tx } from '../platform/db.ts';
import { write } from '../platform/write.ts';

/** Changes of this kind are nobody's but the server's. */
const SERVER = { userId: null, client: null };

/**
 * Changes a clip's row when it is still as expected, with its event.
 * @param change what to set, or null to leave everything as it is.
 * @returns whether anything was written.
 */
export async function changeClip(db: Db, clipId: string, kind: string, change: (row: ClipRow, tx: Tx) => Prisma.ClipUpdateInput | null | Promise<Prisma.ClipUpdateInput | null>): Promise<boolean> {
  const found = await db.clip.findUnique({ where: { id: clipId }, select: { filmId: true } });
  if (!found) return false;
  class Unchanged extends Error {}
  try {
    await write(db, SERVER, found.filmId, async (tx: Tx) => {
      await tx.$queryRaw`SELECT id FROM clip WHERE id = ${clipId} FOR UPDATE`;
      const data = await change(await tx.clip.findUniqueOrThrow({ where: { id: clipId } }), tx);
      // A transaction that numbers no event must not commit.
      if (!data) throw new Unchanged();
      return { kind, subject: clipId, rows: { clips: [toClip(await tx.clip.update({ where: { id: clipId }, data }))] }, result: undefined };
    });
    return true;
  } catch (error) {
    if (error instanceof Unchanged) return false;
    throw error;
  }
}

/**
 * Says on the clip why there is no proxy.
 * @param version the attempt that failed; a clip that another attempt is being played of is left alone.
 */
export async function markFailed(db: Db, clipId: string, version: string | null, failure: ClipFailure): Promise<boolean> {
  return changeClip(db, clipId, 'clip.failed', (row) => {
    if (row.state === 'ready' || row.state === 'failed' || (version !== null && row.proxyVersion !== null && row.proxyVersion !== version)) return null;
    return { state: 'failed', proxyVersion: null, failure: failure as unknown as Prisma.InputJsonObject };
  });
}

/** For a clip whose job was lost as often as the queue tries. */
export function workerDied(): ClipFailure {
  return {
    code: 'worker-died',
    stage: 'proxy',
    reason: 'The worker died each time it made this proxy, perhaps for want of memory. Look at the machine, then try again.',
    command: '',
    output: '',
    mayRetry: true,
  };
}
