// One GiB by tus against the same bytes by a plain HTTP PUT into a Node stream: both make the xxh64 of what arrives and
// both have it on the disk (fsync) before they answer. The sender is the same code for both; so is the disk.
import { createHash, randomBytes } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdtemp, open, rm } from 'node:fs/promises';
import { createServer, request, type IncomingMessage } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable, Transform } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createXXHash64 } from 'hash-wasm';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { metadata } from '../fixtures/tus.ts';
import type { Figure } from './run.ts';

const BYTES = 1024 ** 3;
const PIECE_BYTES = 1024 * 1024;
const ROUNDS = 3;
const BAR = 1.5;

/** The bytes of a clip that is one GiB: a small one, and a `free` box as long as the rest. */
async function* gibibyte(salt: string): AsyncGenerator<Buffer> {
  const clip = (await smallClip({ padding: 0 })).subarray(0, -8);
  const box = Buffer.alloc(8);
  box.writeUInt32BE(BYTES - clip.byteLength);
  box.write('free', 4, 'latin1');
  const head = Buffer.concat([clip, box, createHash('sha256').update(salt).digest()]);
  yield head;
  const piece = randomBytes(PIECE_BYTES);
  for (let left = BYTES - head.byteLength; left > 0; left -= PIECE_BYTES) yield piece.subarray(0, Math.min(left, PIECE_BYTES));
}

async function send(url: string, method: string, headers: Record<string, string>, salt: string): Promise<IncomingMessage> {
  const sending = request(url, { method, headers: { 'content-length': String(BYTES), ...headers } });
  const answer = new Promise<IncomingMessage>((done, fail) => sending.once('response', done).once('error', fail));
  await pipeline(Readable.from(gibibyte(salt)), sending);
  const response = await answer;
  response.resume();
  return response;
}

async function byTus(rig: Rig, salt: string): Promise<number> {
  const start = performance.now();
  const cookie = rig.as('field').cookie;
  const made = await rig.as('field').fetch(rig.at('/uploads'), { method: 'POST', headers: { 'tus-resumable': '1.0.0', 'upload-length': String(BYTES), 'upload-metadata': metadata({ filename: `${salt}.mp4` }) } });
  const { statusCode } = await send(rig.url + made.headers.get('location')!, 'PATCH', { cookie, 'tus-resumable': '1.0.0', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream' }, salt);
  const took = performance.now() - start;
  if (statusCode !== 204) throw new Error(`The upload was answered with ${statusCode}.`);
  // The disk is as empty for the next round as it was for this one.
  for (const { originalPath } of await rig.db.clip.findMany()) await rig.ground.storage.remove('originals', originalPath);
  return took;
}

async function plainly(folder: string, salt: string): Promise<number> {
  const server = createServer((incoming, answer) => {
    void (async () => {
      const file = join(folder, 'plain');
      const hash = (await createXXHash64()).init();
      const summing = new Transform({ transform: (chunk: Buffer, _, done) => (hash.update(chunk), done(null, chunk)) });
      await pipeline(incoming, summing, createWriteStream(file));
      const handle = await open(file, 'r');
      await handle.sync();
      await handle.close();
      answer.end(hash.digest('hex'));
    })();
  }).listen(0, '127.0.0.1');
  await new Promise((done) => server.once('listening', done));
  const { port } = server.address() as { port: number };
  const start = performance.now();
  await send(`http://127.0.0.1:${port}/`, 'PUT', {}, salt);
  const took = performance.now() - start;
  server.closeAllConnections();
  await new Promise((done) => server.close(done));
  await rm(join(folder, 'plain'));
  return took;
}

const median = (values: number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1]!;

export default async function uploadBench(): Promise<Figure[]> {
  const rig = await startRig();
  const folder = await mkdtemp(join(tmpdir(), 'rushlight-bench-put-'));
  try {
    const ratios: number[] = [];
    for (let round = 0; round < ROUNDS; round++) {
      // Each round has its own reference, so that a machine that changes its pace does not count.
      const plain = await plainly(folder, `plain-${round}`);
      ratios.push((await byTus(rig, `tus-${round}`)) / plain);
    }
    const value = Math.round(median(ratios) * 100) / 100;
    return [{ figure: 'tus upload of 1 GiB ÷ plain HTTP PUT of the same bytes, checksum and fsync in both', value, unit: '×', bar: BAR, ok: value <= BAR }];
  } finally {
    await rig.close();
    await rm(folder, { recursive: true, force: true });
  }
}
