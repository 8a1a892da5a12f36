// The write path's promise: rows and event together or neither, however the transaction ends.
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openDb, type Db, type Tx } from '../../server/platform/db.ts';
import { write } from '../../server/platform/write.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let db: Db;
beforeAll(async () => {
  rig = await startRig();
  // One connection, so that every change meets what the one before left on it.
  db = openDb(rig.ground.databaseUrl, { connections: 1 });
  await db.$executeRaw`CREATE TABLE once (n int UNIQUE DEFERRABLE INITIALLY DEFERRED)`;
});
afterAll(async () => {
  await db.$disconnect();
  await rig.close();
});

const change = (film: string, work: (tx: Tx) => Promise<unknown>) =>
  write(db, { userId: null, client: null }, film, async (tx) => {
    await work(tx);
    return { kind: 'film.changed', subject: 'test', rows: {}, result: 'done' };
  });
const insert = (n: number) => (tx: Tx) => tx.$executeRaw`INSERT INTO once VALUES (${n}::int)`;
const stand = async () => ({
  seq: (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq,
  events: await rig.db.event.count({ where: { filmId: rig.film } }),
  rows: Number((await rig.db.$queryRaw<[{ count: bigint }]>`SELECT count(*) FROM once`)[0].count),
});
/** After a refusal nothing is different, and the same connection takes the next change. */
async function leavesNothing(attempt: () => Promise<unknown>, why: RegExp): Promise<void> {
  const before = await stand();
  await expect(attempt()).rejects.toThrow(why);
  expect(await stand()).toEqual(before);
  expect(await change(rig.film, insert(1000 + before.seq))).toBe('done');
  expect(await stand()).toEqual({ seq: before.seq + 1, events: before.events + 1, rows: before.rows + 1 });
}

describe('a change', () => {
  it('writes its rows and its event', async () => {
    const before = await stand();
    expect(await change(rig.film, insert(1))).toBe('done');
    expect(await stand()).toEqual({ seq: before.seq + 1, events: before.events + 1, rows: before.rows + 1 });
  });

  it('that throws leaves nothing', () =>
    leavesNothing(
      () =>
        change(rig.film, async (tx) => {
          await insert(2)(tx);
          throw new Error('a rule said no');
        }),
      /a rule said no/,
    ));

  it('that throws before its first statement leaves nothing', () =>
    leavesNothing(() => change(rig.film, () => Promise.reject(new Error('at once'))), /at once/));

  it('whose statement is refused leaves nothing', () => leavesNothing(() => change(rig.film, (tx) => tx.$executeRaw`SELECT 1 / 0`), /division by zero/));

  it('of a film that is gone leaves nothing', () => leavesNothing(() => change('no such film', insert(3)), /null value|Null constraint/i));

  it('that the database refuses only at its commit leaves nothing and is told so', () =>
    leavesNothing(() => change(rig.film, insert(1)), /unique ?constraint/i));

  it('whose connection is lost leaves nothing', () =>
    leavesNothing(
      () =>
        change(rig.film, async (tx) => {
          await insert(4)(tx);
          const [{ pid }] = await tx.$queryRaw<[{ pid: number }]>`SELECT pg_backend_pid() AS pid`;
          await rig.db.$executeRaw`SELECT pg_terminate_backend(${pid}::int)`;
        }),
      /terminat|closed|connection|EPIPE|ECONNRESET/i,
    ));

  it('is not seen by anyone before it is whole', async () => {
    const before = await stand();
    await change(rig.film, async (tx) => {
      await insert(5)(tx);
      expect(await stand()).toEqual(before);
    });
    expect((await stand()).rows).toBe(before.rows + 1);
  });
});
