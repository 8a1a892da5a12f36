import { PgBoss, type JobWithMetadata } from 'pg-boss';
import type { Tx } from './db.ts';

export type Jobs = PgBoss;

/** A worker says it is alive this often; one that has not for three times as long is taken for dead. */
const HEARTBEAT_SECONDS = 30;
/** A worker with nothing to do looks this often. pg-boss' own word of new jobs leaves out those that are tried again, which would then wait half a minute. */
const POLL_SECONDS = 0.5;

/** The job queue, on the database everything else is in. Every process looks after it: one at a time, by its own lock. */
export async function openJobs(url: string, { queues, onError }: { queues: string[]; onError: (error: Error) => void }): Promise<Jobs> {
  const boss = new PgBoss({
    connectionString: url,
    schema: 'jobs',
    max: 4,
    supervise: true,
    schedule: false,
    superviseIntervalSeconds: 10,
    monitorIntervalSeconds: 10,
    openTelemetry: { enabled: false },
  });
  boss.on('error', onError);
  await boss.start();
  for (const name of queues) {
    const options = { heartbeatSeconds: HEARTBEAT_SECONDS, expireInSeconds: 24 * 3600, retryLimit: 5, retryDelay: 0 };
    if (await boss.getQueue(name)) await boss.updateQueue(name, options);
    else await boss.createQueue(name, options);
  }
  return boss;
}

/** Enqueues in the transaction that makes the job necessary: both happen, or neither. */
export async function enqueue(jobs: Jobs, tx: Tx, queue: string, data: object): Promise<void> {
  const executeSql = async (text: string, values: unknown[] = []) => ({ rows: await tx.$queryRawUnsafe<unknown[]>(text, ...values) });
  await jobs.send(queue, data, { db: { executeSql } });
}

/** Runs jobs of a queue, `concurrency` at a time; the handler's signal fires when the job must stop. */
export async function workOn<T extends object>(jobs: Jobs, queue: string, concurrency: number, handle: (job: JobWithMetadata<T>) => Promise<void>): Promise<void> {
  for (let n = 0; n < concurrency; n++) {
    await jobs.work<T>(queue, { includeMetadata: true, batchSize: 1, pollingIntervalSeconds: POLL_SECONDS }, async ([job]) => {
      if (job) await handle(job as JobWithMetadata<T>);
    });
  }
}
