// Workers: they take jobs off a queue, take up what dead workers left, and hand back what they run when they must stop.
//
// A job of the queue:  created -> active -> completed            (also when it failed for good: its row says so)
//                              active -> retry -> active         (a passing failure, or a worker that died)
//                              active -> failed                  (retries used up)
// A row (clip, track, manifest): received -> working -> ready | failed;    failed -> received by the retry button
import type { JobWithMetadata } from 'pg-boss';
import { Prisma } from '#prisma';
import { heldClaims, takeClaim } from './claim.ts';
import type { Ground } from './http.ts';
import { enqueue, workOn } from './jobs.ts';

const SWEEP_EVERY_MS = 2500;
/** A worker takes its claim within milliseconds of taking the job; until this long after, nobody misses it. */
const LOCK_GRACE_SECONDS = 2;

/** One kind of long work on rows of one table. */
export interface Work {
  queue: string;
  /** Name of the id in a job's data, and the table whose rows have a `state` and `removed_at`; null where the work keeps no state and is asked for again by who misses its result. */
  subject: 'clipId' | 'trackId' | 'manifestId' | 'filmId';
  table: 'clip' | 'track' | 'manifest' | null;
  concurrency: number;
  /** @throws the signal's reason when stopped, and failures that may pass by themselves; others it tells on the row. */
  run(id: string, how: { signal: AbortSignal; lastTry: boolean }): Promise<void>;
  /** Told of a row that no job is left for. */
  giveUp(id: string): Promise<unknown>;
}

export interface Worker {
  /** Stops what runs, puts it back into the queue at once, and ends when nothing runs any more. */
  stop(): Promise<void>;
}

type Job = JobWithMetadata<Record<string, string>>;

/** The key of the claim on a row. */
export const claimKey = (queue: string, id: string): string => `${queue}:${id}`;

/** Works until stopped. Any number of workers may run on any number of machines. */
export async function startWork(ground: Ground, work: Work): Promise<Worker> {
  const stopping = new AbortController();
  await sweep(ground, work);
  await workOn<Record<string, string>>(ground.jobs, work.queue, work.concurrency, (job) => runJob(ground, work, job, stopping.signal));

  let sweeping = Promise.resolve();
  const timer = setInterval(() => {
    sweeping = sweeping.then(() => sweep(ground, work)).catch((error: unknown) => console.error(`The sweep of ${work.queue} jobs failed:`, error));
  }, SWEEP_EVERY_MS);
  return {
    async stop() {
      clearInterval(timer);
      const drained = ground.jobs.offWork(work.queue, { wait: true });
      stopping.abort(new Error('The worker is stopping.'));
      await Promise.all([drained, sweeping]);
    },
  };
}

async function runJob(ground: Ground, work: Work, job: Job, stopping: AbortSignal): Promise<void> {
  const id = job.data[work.subject]!;
  const handBack = () => ground.db.$transaction((tx) => enqueue(ground.jobs, tx, work.queue, { [work.subject]: id }));
  if (stopping.aborted) return handBack();

  const claim = await takeClaim(ground.databaseUrl, claimKey(work.queue, id), async () => !(await othersActive(ground, work, job)));
  // Somebody does this very work already: it was enqueued twice.
  if (!claim) return;
  try {
    await work.run(id, { signal: AbortSignal.any([stopping, claim.lost, job.signal]), lastTry: job.retryCount >= job.retryLimit });
  } catch (error) {
    if (!stopping.aborted) throw error;
    await handBack();
  } finally {
    await claim.release();
  }
}

async function othersActive({ db }: Ground, { queue, subject }: Work, job: Job): Promise<boolean> {
  const [row] = await db.$queryRaw<{ others: boolean }[]>`
    SELECT EXISTS (SELECT 1 FROM jobs.job WHERE name = ${queue} AND state = 'active' AND data->>${subject} = ${job.data[subject]} AND id <> ${job.id}::uuid) AS others`;
  return row?.others ?? false;
}

/** Puts the jobs of dead workers back into the queue, and tells of rows that no job is left for. */
async function sweep({ db, jobs }: Ground, { queue, subject, table, giveUp }: Work): Promise<void> {
  const active = await db.$queryRaw<{ id: string; retryCount: number; about: string }[]>`
    SELECT id::text AS id, retry_count AS "retryCount", data->>${subject} AS about FROM jobs.job
    WHERE name = ${queue} AND state = 'active' AND started_on < now() - make_interval(secs => ${LOCK_GRACE_SECONDS})`;
  if (active.length) {
    const held = await heldClaims(db, active.map(({ about }) => claimKey(queue, about)));
    const orphans = active.filter(({ about }) => !held.has(claimKey(queue, about)));
    // Fenced to the attempt that was seen: one that ended in the meantime is left alone.
    if (orphans.length) await jobs.fail(queue, orphans.map(({ id, retryCount }) => ({ id, retryCount })), { message: 'The worker died.' });
  }
  if (table === null) return;
  const stranded = await db.$queryRaw<{ id: string }[]>`
    SELECT id FROM ${Prisma.raw(table)} WHERE state IN ('received', 'working') AND removed_at IS NULL
    AND id NOT IN (SELECT data->>${subject} FROM jobs.job WHERE name = ${queue} AND state < 'completed')`;
  for (const { id } of stranded) await giveUp(id);
}

/** Removes the folders of attempts that nobody works on and no row names: `kept` says which one of an id stays. */
export async function removeLeftovers({ db, storage }: Ground, { queue, area, kept }: { queue: string; area: 'proxies' | 'music'; kept(id: string): Promise<{ known: boolean; version: string | null }> }): Promise<void> {
  for (const id of await storage.list(area, '')) {
    const attempts = await storage.list(area, id);
    // In this order: whoever ended between the two looks has named its folder by the second.
    if ((await heldClaims(db, [claimKey(queue, id)])).size) continue;
    const { known, version } = await kept(id);
    for (const attempt of attempts) if (attempt !== version) await storage.remove(area, `${id}/${attempt}`);
    if (!known) await storage.remove(area, id);
  }
}
