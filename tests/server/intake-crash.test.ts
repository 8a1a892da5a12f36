// What is left when a sender goes away or the process dies at any step between the first byte and the clip.
import { linkSync, mkdirSync, readFileSync, readdirSync, renameSync, statSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { request } from 'node:http';
import { dirname } from 'node:path';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { sweepIntake } from '../../server/intake/index.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { tusAs } from '../fixtures/tus.ts';

let rig: Rig;
let tus: ReturnType<typeof tusAs>;
beforeAll(async () => {
  rig = await startRig();
  tus = tusAs(rig.as('field'), rig.film);
});
afterAll(() => rig.close());

const incoming = () => readdirSync(rig.ground.storage.path('incoming', ''));
const uploadOf = (url: string) => rig.db.upload.findUniqueOrThrow({ where: { id: url.split('/').at(-1)! } });
const original = (path: string) => rig.ground.storage.path('originals', path);
const sumOf = (bytes: Buffer): Promise<string> => xxhash64(bytes);

describe('a sender that goes away', () => {
  it('in the middle of a plain request: nothing is kept, and the upload says so', async () => {
    const bytes = await smallClip({ padding: 1_000_000 });
    const head = '--cut\r\ncontent-disposition: form-data; name="file"; filename="gone.mp4"\r\ncontent-type: video/mp4\r\n\r\n';
    const sending = request(rig.url + rig.at('/clips/files'), { method: 'POST', headers: { cookie: rig.as('field').cookie, 'content-type': 'multipart/form-data; boundary=cut', 'content-length': String(bytes.byteLength + 1000) } });
    sending.on('error', () => {});
    sending.write(head);
    sending.write(bytes.subarray(0, 500_000));
    await expect.poll(async () => (await rig.db.upload.findFirst({ where: { name: 'gone.mp4' } }))?.state, { timeout: 20_000 }).toBe('arriving');
    sending.destroy();
    await expect.poll(async () => (await rig.db.upload.findFirst({ where: { name: 'gone.mp4' } }))?.state, { timeout: 20_000 }).toBe('withdrawn');
    await expect.poll(() => incoming().length, { timeout: 20_000 }).toBe((await rig.db.upload.count({ where: { state: 'arriving' } })) * 2);
  });

  it('in the middle of a chunk: what came in counts, and the rest follows from there', async () => {
    const bytes = await smallClip({ padding: 2_000_000 });
    const url = await tus.begin(bytes.byteLength, { filename: 'cut.mp4', xxh64: await sumOf(bytes) });
    const sending = request(rig.url + url, { method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream', 'content-length': String(bytes.byteLength) } });
    sending.on('error', () => {});
    sending.write(bytes.subarray(0, 1_500_000));
    const path = rig.ground.storage.path('incoming', url.split('/').at(-1)!);
    await expect.poll(() => statSync(path).size, { timeout: 20_000 }).toBeGreaterThan(1_000_000);
    sending.destroy();
    const at = Number((await tus.head(url)).headers.get('upload-offset'));
    expect(at).toBeGreaterThan(1_000_000);
    expect((await tus.patch(url, at, bytes.subarray(at))).status).toBe(204);
    expect((await uploadOf(url)).state).toBe('arrived');
  });

  it('and comes back while the server still holds the dead connection: it may go on at once', async () => {
    const bytes = await smallClip({ padding: 2_000_000 });
    const url = await tus.begin(bytes.byteLength, { filename: 'half-open.mp4' });
    const hanging = request(rig.url + url, { method: 'PATCH', headers: { cookie: rig.as('field').cookie, 'tus-resumable': '1.0.0', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream', 'content-length': String(bytes.byteLength) } });
    hanging.on('error', () => {});
    hanging.write(bytes.subarray(0, 1_000_000));
    const path = rig.ground.storage.path('incoming', url.split('/').at(-1)!);
    await expect.poll(() => statSync(path).size, { timeout: 20_000 }).toBe(1_000_000);
    const head = await tus.head(url);
    expect([head.status, head.headers.get('upload-offset')]).toEqual([200, '1000000']);
    expect((await tus.patch(url, 1_000_000, bytes.subarray(1_000_000))).status).toBe(204);
    hanging.destroy();
    expect((await rig.db.clip.findUniqueOrThrow({ where: { id: (await uploadOf(url)).clipId! } })).xxh64).toBe(await sumOf(bytes));
  });
});

describe('after a crash', () => {
  const place = (id: string, ending = '') => rig.ground.storage.path('incoming', `${id}${ending}`);

  it('between the last byte and the clip: the sweep takes the file in', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength, { filename: 'late.mp4', xxh64: await sumOf(bytes) });
    // The bytes are on disk, and the process died before it could look at them.
    await writeFile(place(url.split('/').at(-1)!), bytes);
    await sweepIntake(rig.ground);
    const upload = await uploadOf(url);
    expect(upload.state).toBe('arrived');
    expect(await rig.db.clip.findUniqueOrThrow({ where: { id: upload.clipId! } })).toMatchObject({ xxh64: await sumOf(bytes), name: 'late.mp4' });
  });

  it('between the last byte and the clip: asking how far it is takes the file in as well', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength);
    await writeFile(place(url.split('/').at(-1)!), bytes);
    expect((await tus.head(url)).headers.get('upload-offset')).toBe(String(bytes.byteLength));
    expect((await uploadOf(url)).state).toBe('arrived');
  });

  it.each(['before the move', 'after the move', 'in the middle of the move'])('%s of the original: the sweep goes on from there', async (when) => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength, { filename: 'moved.mp4' });
    const id = url.split('/').at(-1)!;
    await writeFile(place(id), bytes);
    const path = `crash/${id}/moved.mp4`;
    const clipId = crypto.randomUUID();
    const entry = JSON.parse(readFileSync(place(id, '.json'), 'utf8'));
    await writeFile(place(id, '.json'), JSON.stringify({ ...entry, move: { clipId, path, xxh64: await sumOf(bytes), bytes: bytes.byteLength } }));
    mkdirSync(dirname(original(path)), { recursive: true });
    if (when === 'after the move') renameSync(place(id), original(path));
    if (when === 'in the middle of the move') linkSync(place(id), original(path));
    await sweepIntake(rig.ground);
    const clip = await rig.db.clip.findUniqueOrThrow({ where: { id: clipId } });
    expect(readFileSync(original(clip.originalPath)).equals(bytes)).toBe(true);
    expect(statSync(original(clip.originalPath)).nlink).toBe(1);
    expect((await uploadOf(url)).state).toBe('arrived');
  });

  it('bytes whose checksum was not compared yet are dropped', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength);
    const id = url.split('/').at(-1)!;
    await tus.patch(url, 0, bytes.subarray(0, 1000));
    const entry = JSON.parse(readFileSync(place(id, '.json'), 'utf8'));
    await writeFile(place(id, '.json'), JSON.stringify({ ...entry, unverifiedFrom: 1000 }));
    await writeFile(place(id), Buffer.concat([bytes.subarray(0, 1000), Buffer.alloc(500)]));
    expect((await tus.head(url)).headers.get('upload-offset')).toBe('1000');
    await tus.patch(url, 1000, bytes.subarray(1000));
    expect((await rig.db.clip.findUniqueOrThrow({ where: { id: (await uploadOf(url)).clipId! } })).xxh64).toBe(await sumOf(bytes));
  });

  it('files nobody knows of are removed, uploads without a file are withdrawn, the unfinished are left alone', async () => {
    const unknown = crypto.randomUUID();
    await writeFile(place(unknown), 'left over');
    await writeFile(place(unknown, '.json'), '{}');
    const lost = await rig.db.upload.create({ data: { id: crypto.randomUUID(), filmId: rig.film, userId: rig.as('field').userId, name: 'lost.mp4', bytes: 5 } });
    const open = await tus.begin(11);
    await tus.patch(open, 0, Buffer.alloc(5));
    await sweepIntake(rig.ground);
    expect(incoming().some((name) => name.includes(unknown))).toBe(false);
    expect((await rig.db.upload.findUniqueOrThrow({ where: { id: lost.id } })).state).toBe('withdrawn');
    expect((await tus.head(open)).headers.get('upload-offset')).toBe('5');
  });

  it('an upload nobody went on with is withdrawn when its time is over', async () => {
    const url = await tus.begin(11);
    await rig.db.upload.update({ where: { id: url.split('/').at(-1)! }, data: { startedAt: new Date(0) } });
    await sweepIntake(rig.ground);
    expect((await uploadOf(url)).state).toBe('withdrawn');
    expect((await tus.head(url)).status).toBe(410);
  });
});
