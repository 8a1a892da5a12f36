// The session that holds the locks of uploads is ended while bytes come in: the uploads stop, and go on with nothing lost.
import { once } from 'node:events';
import { readFileSync, readdirSync, statSync } from 'node:fs';
import { request, type ClientRequest, type IncomingMessage } from 'node:http';
import { text } from 'node:stream/consumers';
import { createHash } from 'node:crypto';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openLocks, type UploadLocks } from '../../server/intake/locks.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { tusAs } from '../fixtures/tus.ts';

let rig: Rig;
let tus: ReturnType<typeof tusAs>;
/** The locks of another API process. */
let other: UploadLocks;
beforeAll(async () => {
  rig = await startRig();
  tus = tusAs(rig.as('field'), rig.film);
  other = openLocks(rig.ground.databaseUrl);
});
afterAll(async () => {
  await other.close();
  await rig.close();
});

const incoming = (name = '') => rig.ground.storage.path('incoming', name);
const sizeOf = (id: string) => statSync(incoming(id), { throwIfNoEntry: false })?.size ?? 0;

/** Ends the session under the upload, and waits until nobody holds it any more. */
async function loseLock(id: string): Promise<void> {
  expect(await other.ifFree(id, async () => {})).toBe(false);
  await rig.db.$executeRaw`SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE application_name = 'rushlight-locks' AND datname = current_database()`;
  await eventually(async () => expect(await other.ifFree(id, async () => {}).catch(() => false)).toBe(true));
}

/** Sends the rest and reads the answer. */
async function rest(sending: ClientRequest, bytes: Buffer): Promise<{ status: number | undefined; code: string }> {
  const answered = once(sending, 'response') as Promise<[IncomingMessage]>;
  sending.end(bytes);
  const [answer] = await answered;
  return { status: answer.statusCode, code: (JSON.parse(await text(answer)) as { code: string }).code };
}

it.each([false, true])('a resumable upload (with a checksum of its chunk: %s) writes nothing more, and goes on from where HEAD says', async (summed) => {
  const bytes = await smallClip({ padding: 3_000_000 });
  const url = await tus.begin(bytes.byteLength, { filename: `lost-${summed}.mp4`, xxh64: await xxhash64(bytes) });
  const id = url.split('/').at(-1)!;
  const sum = summed ? { 'upload-checksum': `sha256 ${createHash('sha256').update(bytes).digest('base64')}` } : {};
  const sending = request(rig.url + url, { method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream', 'content-length': String(bytes.byteLength), ...sum } });
  sending.write(bytes.subarray(0, 1_000_000));
  await eventually(() => expect(sizeOf(id)).toBe(1_000_000));
  await loseLock(id);
  expect(await rest(sending, bytes.subarray(1_000_000))).toEqual({ status: 503, code: 'overloaded' });
  expect(sizeOf(id)).toBe(1_000_000);

  const at = Number((await tus.head(url)).headers.get('upload-offset'));
  expect(at).toBe(summed ? 0 : 1_000_000);
  expect((await tus.patch(url, at, bytes.subarray(at))).status).toBe(204);
  const { originalPath } = await rig.db.clip.findFirstOrThrow({ where: { name: `lost-${summed}.mp4` } });
  expect(readFileSync(rig.ground.storage.path('originals', originalPath)).equals(bytes)).toBe(true);
});

it('a plain upload, with which nobody can go on, is withdrawn', async () => {
  const bytes = await smallClip({ padding: 3_000_000 });
  const head = Buffer.from('--cut\r\ncontent-disposition: form-data; name="file"; filename="plain.mp4"\r\ncontent-type: video/mp4\r\n\r\n');
  const tail = Buffer.from('\r\n--cut--\r\n');
  const sending = request(rig.url + rig.at('/clips/files'), { method: 'POST', headers: { cookie: rig.as('field').cookie, 'content-type': 'multipart/form-data; boundary=cut', 'content-length': String(head.byteLength + bytes.byteLength + tail.byteLength) } });
  sending.write(Buffer.concat([head, bytes.subarray(0, 1_000_000)]));
  const uploadOf = () => rig.db.upload.findFirst({ where: { name: 'plain.mp4' } });
  await eventually(async () => expect(sizeOf((await uploadOf())?.id ?? '-')).toBeGreaterThan(0));
  const { id } = (await uploadOf())!;
  await loseLock(id);
  expect(await rest(sending, Buffer.concat([bytes.subarray(1_000_000), tail]))).toEqual({ status: 503, code: 'overloaded' });
  expect((await uploadOf())?.state).toBe('withdrawn');
  expect(readdirSync(incoming())).toEqual([]);
  expect((await tus.whole(bytes, { filename: 'again.mp4' })).status).toBe(204);
});
