import type { CardProgress } from '../cards/contract.ts';
import type { Progress } from '../live/contract.ts';
import type { StringOutProgress } from '../stringout/contract.ts';
import type { TrackProgress } from '../music/contract.ts';
import { NOTIFY_BYTES, type Db, type Tx } from './db.ts';

export const PASSING_CHANNEL = 'rushlight_passing';

/** What is worth telling but not keeping: the next one says it better. */
export type Passing =
  | ({ to: 'progress' } & Progress)
  | ({ to: 'track' } & TrackProgress)
  | ({ to: 'card' } & CardProgress)
  | ({ to: 'string-out' } & StringOutProgress)
  | { to: 'seen'; film: string; clipId: string; userId: string; crew: [number, number][] };

/** Tells every API process, which tell their browsers. A message too long for NOTIFY is left out: nothing depends on one. */
export async function passing(db: Db | Tx, message: Passing): Promise<void> {
  const told = JSON.stringify(message);
  if (Buffer.byteLength(told) < NOTIFY_BYTES) await db.$executeRaw`SELECT pg_notify(${PASSING_CHANNEL}, ${told})`;
}
