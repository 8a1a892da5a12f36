// Two API processes on one database, as two sets of locks: whatever holds in one holds in the other.
import { once } from 'node:events';
import postgres from 'postgres';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openLocks, type UploadLocks } from '../../server/intake/locks.ts';
import { freshDatabase } from '../fixtures/database.ts';
import { eventually } from '../fixtures/eventually.ts';

let database: Awaited<ReturnType<typeof freshDatabase>>;
let here: UploadLocks;
let there: UploadLocks;
const signal = new AbortController().signal;

beforeAll(async () => {
  database = await freshDatabase();
  here = openLocks(database.url);
  there = openLocks(database.url);
});
afterAll(async () => {
  await here.close();
  await there.close();
  await database.drop();
});

describe('upload locks', () => {
  it.each([
    ['in one process', () => here],
    ['across processes', () => there],
  ])('%s: who wants a held upload asks its holder, and gets it when that lets go', async (_, other) => {
    const lock = here.newLock('a');
    const asked = Promise.withResolvers<void>();
    await lock.lock(signal, () => asked.resolve());
    const got = other().newLock('a').lock(signal, () => {});
    await asked.promise;
    expect(await other().ifFree('a', async () => {})).toBe(false);
    await lock.unlock();
    await got;
    expect(await here.ifFree('a', async () => {})).toBe(false);
    await other().newLock('a').unlock();
    expect(await here.ifFree('a', async () => {})).toBe(true);
  });

  it('twenty at once from both sides never overlap', async () => {
    let inside = 0;
    let most = 0;
    const work = async (): Promise<void> => {
      most = Math.max(most, ++inside);
      await new Promise((later) => setImmediate(later));
      inside -= 1;
    };
    await Promise.all(Array.from({ length: 20 }, (_, n) => (n % 2 ? here : there).during('b', work)));
    expect([inside, most]).toEqual([0, 1]);
  });

  it('are free again after work that failed, and when their process is gone', async () => {
    await expect(here.during('c', () => Promise.reject(new Error('broken')))).rejects.toThrow('broken');
    expect(await there.ifFree('c', async () => {})).toBe(true);
    const dying = openLocks(database.url);
    await dying.newLock('d').lock(signal, () => {});
    expect(await here.ifFree('d', async () => {})).toBe(false);
    await dying.close();
    await here.during('d', async () => {});
  });

  it('whose session is lost are told so, are free for others, and can be taken again', async () => {
    const admin = postgres(database.url, { max: 1 });
    await here.newLock('f').lock(signal, () => {});
    const lost = here.lostOf('f');
    expect(lost.aborted).toBe(false);
    const told = once(lost, 'abort');
    await admin`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'rushlight-locks' AND datname = current_database()`;
    await told;
    expect(lost.reason).toMatchObject({ code: 'overloaded' });
    // In this process the name stays taken until the work under it has stopped.
    expect(await here.ifFree('f', async () => {})).toBe(false);
    await eventually(async () => expect(await there.ifFree('f', async () => {})).toBe(true));
    await here.newLock('f').unlock();
    await here.during('f', async () => expect(here.lostOf('f').aborted).toBe(false));
    expect(() => here.lostOf('f')).toThrow('not held');
    await admin.end();
  });

  it('a request that is given up stops waiting', async () => {
    await here.newLock('e').lock(signal, () => {});
    await expect(there.newLock('e').lock(AbortSignal.timeout(50), () => {})).rejects.toMatchObject({ code: 'overloaded' });
    await here.newLock('e').unlock();
  });
});
