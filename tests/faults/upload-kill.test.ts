// kill -9 of the server while bytes come in, over and over: the upload goes on where it stood, nothing is lost or left.
import { once } from 'node:events';
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { request } from 'node:http';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { serverProcess, type ServerProcess } from '../fixtures/server-process.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { metadata } from '../fixtures/tus.ts';

const UPLOADS = 4;
const KILLS_AN_UPLOAD = 5;
/** Twenty starts of a server take long on a machine that has other things to do. */
const AT_MOST_MS = 1_500_000;
const PADDING = 24 * 1024 * 1024;

let rig: Rig;
let server: ServerProcess;
let port: number;
beforeAll(async () => {
  rig = await startRig();
  server = await serverProcess(rig);
  port = server.port;
});
afterAll(async () => {
  await server.kill();
  await rig.close();
});

const startServer = () => server.start();
const killServer = () => server.kill();

const ask = (method: string, path: string, headers: Record<string, string>) =>
  fetch(`http://127.0.0.1:${port}${path}`, { method, headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', ...headers } });

async function offsetOf(path: string): Promise<number> {
  const answer = await ask('HEAD', path, {});
  expect(answer.status).toBe(200);
  return Number(answer.headers.get('upload-offset'));
}

/** Sends from an offset on; when `until` bytes lie on the disk the server is killed. */
async function sendAndKill(path: string, bytes: Buffer, from: number, until: number): Promise<void> {
  const file = rig.ground.storage.path('incoming', path.split('/').at(-1)!);
  const sending = request({ host: '127.0.0.1', port, path, method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': String(from), 'content-type': 'application/offset+octet-stream', 'content-length': String(bytes.byteLength - from) } });
  const cut = once(sending, 'error');
  const step = 256 * 1024;
  for (let at = from; at < bytes.byteLength && statSync(file).size < until; at += step) {
    if (!sending.write(bytes.subarray(at, at + step))) await new Promise<void>((done) => sending.once('drain', done));
  }
  await killServer();
  await cut;
}

it(`${UPLOADS * KILLS_AN_UPLOAD} kills during uploads: each completes with the right checksum, nothing is left over`, { timeout: AT_MOST_MS }, async () => {
  let kills = 0;
  const sums: string[] = [];
  await startServer();
  for (let n = 0; n < UPLOADS; n++) {
    const bytes = await smallClip({ padding: PADDING });
    const xxh64 = await xxhash64(bytes);
    sums.push(xxh64);
    const made = await ask('POST', rig.at('/uploads'), { 'upload-length': String(bytes.byteLength), 'upload-metadata': metadata({ filename: `kill-${n}.mp4`, card: 'K001', xxh64 }) });
    const path = made.headers.get('location')!;
    for (let kill = 1; kill <= KILLS_AN_UPLOAD; kill++) {
      const from = await offsetOf(path);
      await sendAndKill(path, bytes, from, Math.floor((bytes.byteLength * kill) / (KILLS_AN_UPLOAD + 1)));
      kills += 1;
      await startServer();
      // What lay on the disk counts; what the dead process had said of it does not.
      expect(await offsetOf(path)).toBeGreaterThanOrEqual(from);
    }
    const from = await offsetOf(path);
    expect(from).toBeGreaterThan(0);
    expect(from).toBeLessThan(bytes.byteLength);
    const rest = await fetch(`http://127.0.0.1:${port}${path}`, {
      method: 'PATCH',
      headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': String(from), 'content-type': 'application/offset+octet-stream' },
      body: new Uint8Array(bytes.subarray(from)),
    });
    expect([rest.status, rest.headers.get('upload-offset')]).toEqual([204, String(bytes.byteLength)]);
  }
  expect(kills).toBe(UPLOADS * KILLS_AN_UPLOAD);

  const clips = await rig.db.clip.findMany({ where: { filmId: rig.film }, orderBy: { name: 'asc' } });
  expect(clips.map(({ xxh64, sourceXxh64 }) => [xxh64, sourceXxh64])).toEqual(sums.map((sum) => [sum, sum]));
  for (const { originalPath, xxh64 } of clips) expect(await xxhash64(readFileSync(rig.ground.storage.path('originals', originalPath)))).toBe(xxh64);
  expect(readdirSync(rig.ground.storage.path('incoming', ''))).toEqual([]);
  expect(await rig.db.upload.count({ where: { state: { not: 'arrived' } } })).toBe(0);
  const jobs = await rig.db.$queryRaw<{ n: bigint }[]>`SELECT count(*) AS n FROM jobs.job WHERE name = 'proxy'`;
  expect(Number(jobs[0]!.n)).toBe(UPLOADS);
});

it('a kill between the last byte and its answer: the file is taken in once, by the next start or by whoever asks', async () => {
  for (let n = 0; n < 3; n++) {
    const bytes = await smallClip();
    const made = await ask('POST', rig.at('/uploads'), { 'upload-length': String(bytes.byteLength), 'upload-metadata': metadata({ filename: `last-${n}.mp4` }) });
    const path = made.headers.get('location')!;
    const sending = request({ host: '127.0.0.1', port, path, method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream', 'content-length': String(bytes.byteLength) } });
    // An answer that just made it, or the connection's end.
    const over = new Promise((done) => sending.once('response', done).once('error', done));
    // Handed to the system in whole before the kill: how much of it the server had written by then is up to chance.
    await new Promise<void>((done) => sending.end(bytes, done));
    await killServer();
    await over;
    await startServer();
    const from = await offsetOf(path);
    if (from < bytes.byteLength) {
      const rest = await fetch(`http://127.0.0.1:${port}${path}`, { method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': String(from), 'content-type': 'application/offset+octet-stream' }, body: new Uint8Array(bytes.subarray(from)) });
      expect(rest.status).toBe(204);
    }
    expect(await offsetOf(path)).toBe(bytes.byteLength);
    expect(await rig.db.clip.count({ where: { xxh64: await xxhash64(bytes) } })).toBe(1);
  }
  expect(readdirSync(rig.ground.storage.path('incoming', ''))).toEqual([]);
});
