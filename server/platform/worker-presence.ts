import postgres from 'postgres';
import type { Db } from './db.ts';

/** First key of the advisory locks that say "a worker lives"; the lock ends with its connection, so with its process. */
const WORKER_LOCK = 7267;

/** Says that this process works on jobs, for as long as it lives. @returns a function that takes it back. */
export async function announceWorker(url: string): Promise<() => Promise<void>> {
  const sql = postgres(url, {
    max: 1,
    idle_timeout: 0,
    max_lifetime: null,
    connection: { application_name: 'rushlight-worker' },
    onnotice: () => {},
  });
  await sql`SELECT pg_advisory_lock_shared(${WORKER_LOCK}, 0)`;
  return () => sql.end({ timeout: 1 });
}

/** Whether any process works on jobs just now. */
export async function workerLives(db: Db): Promise<boolean> {
  const [row] = await db.$queryRaw<{ lives: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM pg_locks WHERE locktype = 'advisory' AND classid = ${WORKER_LOCK}::oid AND granted
                   AND database = (SELECT oid FROM pg_database WHERE datname = current_database())) AS lives`;
  return row?.lives ?? false;
}
