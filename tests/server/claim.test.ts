import { once } from 'node:events';
import postgres from 'postgres';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openDb, type Db } from '../../server/platform/db.ts';
import { heldClaims, takeClaim } from '../../server/platform/claim.ts';
import { freshDatabase } from '../fixtures/database.ts';

let database: Awaited<ReturnType<typeof freshDatabase>>;
let db: Db;
beforeAll(async () => {
  database = await freshDatabase();
  db = openDb(database.url);
});
afterAll(async () => {
  await db.$disconnect();
  await database.drop();
});

const alive = async () => false;
const dead = async () => true;

it('a thing is held by one at a time, and free again when let go', async () => {
  const first = await takeClaim(database.url, 'one', alive);
  expect(await takeClaim(database.url, 'one', alive)).toBeNull();
  const other = await takeClaim(database.url, 'another', alive);
  expect(await heldClaims(db, ['one', 'another', 'third'])).toEqual(new Set(['one', 'another']));
  await first!.release();
  expect(await heldClaims(db, ['one', 'another'])).toEqual(new Set(['another']));
  const again = await takeClaim(database.url, 'one', alive);
  expect(again).not.toBeNull();
  await again!.release();
  await other!.release();
});

it('is asked about the holder only when there is one', async () => {
  const claim = await takeClaim(database.url, 'free', async () => {
    throw new Error('nobody holds it');
  });
  await claim!.release();
});

it('many at once: exactly one gets it', async () => {
  const claims = await Promise.all(Array.from({ length: 12 }, () => takeClaim(database.url, 'wanted', alive)));
  const got = claims.filter((claim) => claim !== null);
  expect(got).toHaveLength(1);
  await got[0]!.release();
});

it('a holder the queue has given up is cut off, learns it, and the thing changes hands', async () => {
  const lost = await takeClaim(database.url, 'orphan', alive);
  const told = once(lost!.lost, 'abort');
  const taken = await takeClaim(database.url, 'orphan', dead);
  expect(taken).not.toBeNull();
  await told;
  expect(taken!.lost.aborted).toBe(false);
  expect(await heldClaims(db, ['orphan'])).toEqual(new Set(['orphan']));
  await taken!.release();
  await lost!.release();
});

it('whoever loses the connection loses the claim, and is told', async () => {
  const claim = await takeClaim(database.url, 'cut', alive);
  const told = once(claim!.lost, 'abort');
  const sql = postgres(database.url, { max: 1 });
  await sql`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'rushlight-claim' AND datname = current_database()`;
  await sql.end();
  await told;
  expect(await heldClaims(db, ['cut'])).toEqual(new Set());
  await claim!.release();
});
