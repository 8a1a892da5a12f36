// Who works on a clip or a track holds an advisory lock of Postgres on a connection of its own.
//
//   free -> held (takeClaim) -> free (release, or the connection ends: the process died, the machine, the network)
//
// Postgres drops the lock of a process that was killed within milliseconds, long before a heartbeat would be missed.
import postgres from 'postgres';
import type { Db } from './db.ts';

/** The right to work on one thing alone. */
export interface Claim {
  /** Fires when the connection, and so the lock, is gone: whoever works on must stop. */
  lost: AbortSignal;
  release(): Promise<void>;
}

const TAKE_OVER_WITHIN = '5s';

/**
 * Takes the lock of a thing.
 * @param key what it is: its queue and its id, such as `proxy:<clip>`.
 * @param holderIsDead asked when somebody holds it: whether the queue has given that holder up. A machine that lost
 *   its power leaves its lock behind until the network notices; such a holder is cut off, and stops if it lives after all.
 * @returns null when somebody who is alive works on it.
 */
export async function takeClaim(url: string, key: string, holderIsDead: () => Promise<boolean>): Promise<Claim | null> {
  const lost = new AbortController();
  const sql = postgres(url, {
    max: 1,
    idle_timeout: 0,
    max_lifetime: null,
    connection: { application_name: 'rushlight-claim' },
    onnotice: () => {},
    onclose: () => lost.abort(new Error('The connection that held the claim is gone.')),
  });
  const connection = await sql.reserve();
  const release = async () => {
    connection.release();
    await sql.end({ timeout: 1 });
  };
  const [tried] = await connection<{ taken: boolean }[]>`SELECT pg_try_advisory_lock(hashtextextended(${key}, 0)) AS taken`;
  if (!tried?.taken) {
    if (!(await holderIsDead())) {
      await release();
      return null;
    }
    await connection`
      SELECT pg_terminate_backend(pid) FROM pg_locks, hashtextextended(${key}, 0) AS k
      WHERE locktype = 'advisory' AND objsubid = 1 AND granted AND classid = ((k >> 32) & 4294967295)::oid AND objid = (k & 4294967295)::oid
        AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`;
    await connection`SELECT set_config('lock_timeout', ${TAKE_OVER_WITHIN}, false)`;
    await connection`SELECT pg_advisory_lock(hashtextextended(${key}, 0))`;
  }
  return { lost: lost.signal, release };
}

/** Those of the given keys that somebody holds just now. */
export async function heldClaims(db: Db, keys: string[]): Promise<Set<string>> {
  const rows = await db.$queryRaw<{ key: string }[]>`
    SELECT key FROM unnest(${keys}::text[]) AS key, hashtextextended(key, 0) AS k
    WHERE EXISTS (
      SELECT 1 FROM pg_locks
      WHERE locktype = 'advisory' AND objsubid = 1 AND granted AND classid = ((k >> 32) & 4294967295)::oid AND objid = (k & 4294967295)::oid
        AND database = (SELECT oid FROM pg_database WHERE datname = current_database()))`;
  return new Set(rows.map(({ key }) => key));
}
