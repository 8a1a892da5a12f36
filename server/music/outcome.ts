// How the work on a track ends on its row. Each step checks that the row is still as expected: an attempt that was given
// up for dead and taken up elsewhere goes away quietly.
import { Prisma, type Track as TrackRow } from '#prisma';
import type { Db, Tx } from '../platform/db.ts';
import { write } from '../platform/write.ts';
import type { Analysis } from './analysis/contract.ts';
import type { Mark, TrackFailure } from './contract.ts';
import { toMark, toTrack } from './rows.ts';
import { marksFound, settleMarks } from './rules.ts';
import { insertMarks } from './store.ts';

/** Changes of this kind are nobody's but the server's. */
const SERVER = { userId: null, client: null };

/** Writes one change of a track, unless `change` finds it is not as expected and answers null. @returns whether it was written. */
async function changeTrack(db: Db, trackId: string, kind: string, change: (row: TrackRow, tx: Tx) => Promise<{ data: Prisma.TrackUpdateInput; marks?: Mark[] } | null>): Promise<boolean> {
  const found = await db.track.findUnique({ where: { id: trackId }, select: { filmId: true } });
  if (!found) return false;
  class Unchanged extends Error {}
  try {
    await write(db, SERVER, found.filmId, async (tx) => {
      await tx.$queryRaw`SELECT id FROM track WHERE id = ${trackId} FOR UPDATE`;
      const changed = await change(await tx.track.findUniqueOrThrow({ where: { id: trackId } }), tx);
      // A transaction that numbers no event must not commit.
      if (!changed) throw new Unchanged();
      const track = toTrack(await tx.track.update({ where: { id: trackId }, data: changed.data }));
      return { kind, subject: trackId, rows: { tracks: [track], ...(changed.marks?.length ? { marks: changed.marks } : {}) }, result: undefined };
    });
    return true;
  } catch (error) {
    if (error instanceof Unchanged) return false;
    throw error;
  }
}

/** Says that somebody works on it. */
export const markWorking = (db: Db, trackId: string): Promise<boolean> =>
  changeTrack(db, trackId, 'track.working', async (row) => (row.state === 'received' ? { data: { state: 'working' } } : null));

/** Makes a track ready, with what was heard in it. */
export function markReady(db: Db, trackId: string, { version, lengthMs, analysis }: { version: string; lengthMs: number; analysis: Analysis }): Promise<boolean> {
  const { integratedLufs, truePeakDbtp } = analysis.loudness;
  return changeTrack(db, trackId, 'track.ready', async (row, tx) => {
    if (row.state !== 'working') return null;
    const marks = await replaceMarks(tx, row, analysis);
    return { data: { state: 'ready', version, lengthMs, integratedLufs, truePeakDbtp, analysis: analysis as unknown as Prisma.InputJsonObject }, marks };
  });
}

async function replaceMarks(tx: Tx, track: TrackRow, analysis: Analysis): Promise<Mark[]> {
  const trackId = track.id;
  const standing = await tx.mark.findMany({ where: { trackId }, include: { ties: { where: { removedAt: null } } } });
  const { remove, add } = settleMarks(standing.map((mark) => ({ ...mark, tied: mark.ties.length > 0 })), marksFound(analysis));
  const removed = remove.length ? await tx.mark.updateManyAndReturn({ where: { trackId, id: { in: remove } }, data: { removedAt: new Date() } }) : [];
  return [...removed, ...(await insertMarks(tx, track, null, add))].map(toMark);
}

/** Says on the track why it cannot be heard. */
export const markFailed = (db: Db, trackId: string, failure: TrackFailure): Promise<boolean> =>
  changeTrack(db, trackId, 'track.failed', async (row) =>
    row.state === 'ready' || row.state === 'failed' ? null : { data: { state: 'failed', version: null, failure: failure as unknown as Prisma.InputJsonObject } },
  );
