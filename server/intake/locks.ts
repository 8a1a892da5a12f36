// One request at a time works on an upload, whichever API process it reaches.
// States of a name: free -> held here (in `held`) and in Postgres -> free, or -> lost (the session that held it is gone,
// so others may have it: who works under it stops at the next step) -> free. Inside a process the map decides; between
// processes a session advisory lock does, which Postgres gives back by itself when the process that holds it dies.
// Who wants a held upload asks for it: a half-open connection must not keep its owner from resuming (tus, "Locks").
import pg from 'pg';
import type { Lock, Locker, RequestRelease } from '@tus/server';
import { Refusal } from '../platform/errors.ts';

const CHANNEL = 'rushlight_upload_wanted';
/** Second argument of hashtextextended: keeps our names apart from other advisory locks. */
const SEED = 7266;
const WAIT_MS = 60_000;
const ASK_AGAIN_MS = 100;

interface Hold {
  release: RequestRelease;
  freed: Promise<void>;
  free: () => void;
  lost: AbortController;
}

export interface UploadLocks extends Locker {
  /** Runs `work` holding the name, waiting for it; nobody can ask this holder to stop. */
  during<T>(name: string, work: () => Promise<T>): Promise<T>;
  /** Fires when a name held here is held no longer, because Postgres or the way to it was gone; with a Refusal that says so. */
  lostOf(name: string): AbortSignal;
  /** Runs `work` if the name is free now. @returns whether it was. */
  ifFree(name: string, work: () => Promise<void>): Promise<boolean>;
  close(): Promise<void>;
}

/** Opens the locks on a session of their own, made when one is needed. Close them when the app closes. */
export function openLocks(databaseUrl: string): UploadLocks {
  const held = new Map<string, Hold>();
  let session: Promise<pg.Client> | null = null;

  const open = (): Promise<pg.Client> => {
    const client = new pg.Client({ connectionString: databaseUrl, application_name: 'rushlight-locks', keepAlive: true, pipeline: true });
    const opened = (async () => {
      await client.connect();
      // On the session that holds, since only holders are asked.
      await client.query(`LISTEN ${CHANNEL}`);
      return client;
    })();
    const gone = () => {
      if (session !== opened) return;
      session = null;
      for (const { lost } of held.values()) lost.abort(new Refusal('overloaded', 'The server lost its hold on this upload; go on from the offset that HEAD tells.'));
    };
    client.on('notification', ({ payload }) => void held.get(payload ?? '')?.release());
    // An error of the connection is followed by its end.
    client.on('error', () => {}).once('end', gone);
    opened.catch(gone);
    return opened;
  };
  const ask = async <T extends pg.QueryResultRow>(text: string, values: unknown[]): Promise<T[]> => (await (await (session ??= open())).query<T>(text, values)).rows;

  const take = async (name: string, release: RequestRelease): Promise<boolean> => {
    if (held.has(name)) return false;
    const { promise: freed, resolve: free } = Promise.withResolvers<void>();
    held.set(name, { release, freed, free, lost: new AbortController() });
    const got = await ask<{ got: boolean }>('SELECT pg_try_advisory_lock(hashtextextended($1, $2)) AS got', [name, SEED]).catch((error: unknown) => {
      held.delete(name);
      free();
      throw error;
    });
    if (got[0]?.got) return true;
    held.delete(name);
    free();
    return false;
  };

  const give = async (name: string): Promise<void> => {
    const hold = held.get(name);
    if (!hold) return;
    try {
      if (!hold.lost.signal.aborted) await ask('SELECT pg_advisory_unlock(hashtextextended($1, $2))', [name, SEED]);
    } finally {
      held.delete(name);
      hold.free();
    }
  };

  const takeSoon = async (name: string, release: RequestRelease, signal: AbortSignal): Promise<void> => {
    const until = AbortSignal.any([signal, AbortSignal.timeout(WAIT_MS)]);
    while (!(await take(name, release))) {
      if (until.aborted) throw new Refusal('overloaded', 'Another request is still working on this upload; try again in a moment.');
      const here = held.get(name);
      if (here) await here.release();
      else await ask('SELECT pg_notify($1, $2)', [CHANNEL, name]);
      await Promise.race([here?.freed ?? pause(ASK_AGAIN_MS), aborted(until)]);
    }
  };

  const endless = new AbortController().signal;
  const keep = () => {};
  return {
    newLock: (name): Lock => ({ lock: (signal, release) => takeSoon(name, release, signal), unlock: () => give(name) }),
    async during(name, work) {
      await takeSoon(name, keep, endless);
      try {
        return await work();
      } finally {
        await give(name);
      }
    },
    lostOf(name) {
      const hold = held.get(name);
      if (!hold) throw new Error(`${name} is not held here.`);
      return hold.lost.signal;
    },
    async ifFree(name, work) {
      if (!(await take(name, keep))) return false;
      try {
        await work();
      } finally {
        await give(name);
      }
      return true;
    },
    close: async () => {
      const client = await session?.catch(() => null);
      await client?.end();
    },
  };
}

const pause = (ms: number): Promise<void> => new Promise((later) => setTimeout(later, ms));

const aborted = (signal: AbortSignal): Promise<void> =>
  signal.aborted ? Promise.resolve() : new Promise((done) => signal.addEventListener('abort', () => done(), { once: true }));
