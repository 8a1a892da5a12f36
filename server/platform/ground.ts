import { join } from 'node:path';
import { makeAuth } from '../access/index.ts';
import type { Config } from './config.ts';
import { openDb } from './db.ts';
import { findTools } from './ffmpeg.ts';
import type { Ground } from './http.ts';
import { openJobs } from './jobs.ts';
import { migrate } from './migrate.ts';
import { startEmbeddedPostgres } from './postgres.ts';
import { openLocalStorage } from './storage.ts';

/** The job queues there are. */
export const QUEUES = ['proxy', 'music', 'manifest', 'string-out'];

/** Opens everything a capability stands on: database (migrated), queue, media, accounts, ffmpeg. */
export async function openGround(config: Config, { onError, fsync = true }: { onError: (error: Error) => void; fsync?: boolean }): Promise<{ ground: Ground; close(): Promise<void> }> {
  const tools = await findTools(config.ffmpegPath);
  const storage = openLocalStorage(join(config.dataDir, 'media'));
  const embedded = config.databaseUrl === null ? await startEmbeddedPostgres(join(config.dataDir, 'db'), { fsync }) : null;
  const databaseUrl = config.databaseUrl ?? embedded!.url;
  await migrate(databaseUrl);
  const db = openDb(databaseUrl);
  const jobs = await openJobs(databaseUrl, { queues: QUEUES, onError });
  return {
    ground: { config, db, databaseUrl, jobs, storage, auth: makeAuth(db, config), tools },
    async close() {
      await jobs.stop({ graceful: false });
      await db.$disconnect();
      // A worker beside an API may still need the Postgres that either of them started.
      if (config.role === 'all') await embedded?.stop();
    },
  };
}
