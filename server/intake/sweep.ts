import { Refusal } from '../platform/errors.ts';
import type { Ground } from '../platform/http.ts';
import { receive, openIntake, type Intake } from './receive.ts';
import { withdrawUpload } from './store.ts';

/**
 * Sets right what a crash left in the incoming area: whole files are taken in, files nobody knows of or nobody can go on
 * with are removed, uploads that are too old or lost their file are withdrawn. Whatever a live request holds is left alone.
 * @param onError told of an upload that could not be set right now; the others go on.
 */
export async function sweep(intake: Intake, onError: (error: unknown) => void): Promise<void> {
  const open = await intake.ground.db.upload.findMany({ where: { state: 'arriving' }, select: { id: true } });
  const ids = new Set([...(await intake.journal.list()), ...open.map(({ id }) => id)]);
  for (const id of ids) await intake.locks.ifFree(id, () => setRight(intake, id)).catch(onError);
}

/** The sweep at boot, before anybody can ask for anything. */
export async function sweepIntake(ground: Ground): Promise<void> {
  const intake = openIntake(ground);
  try {
    await sweep(intake, (error) => console.error(error));
  } finally {
    await intake.locks.close();
  }
}

async function setRight(intake: Intake, id: string): Promise<void> {
  const { ground: { db, storage, config }, journal } = intake;
  const upload = await db.upload.findUnique({ where: { id } });
  if (upload?.state !== 'arriving') return journal.clear(id);
  const who = { userId: upload.userId, client: null };
  const kept = await journal.get(id);
  const size = kept && !kept.move ? await storage.size('incoming', id).catch(() => null) : null;
  const whole = kept?.move !== undefined || (size !== null && size === kept?.size && kept.unverifiedFrom === undefined);
  if (whole) {
    await receive(intake, who, id).catch((error: unknown) => {
      // A refusal is on the upload by the time it is thrown, for its sender to read.
      if (!(error instanceof Refusal)) throw error;
    });
    return;
  }
  const tooOld = upload.startedAt.getTime() + config.uploadExpiresHours * 3_600_000 < Date.now();
  if (!kept || size === null || kept.onePiece || tooOld) {
    intake.hashes.forget(id);
    await withdrawUpload(db, who, upload);
    await journal.clear(id);
  }
}
