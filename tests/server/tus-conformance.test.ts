// tus 1.0.0 (2016-03-25): https://github.com/tus/tus-resumable-upload-protocol, protocol.md at 30698e1. The cases follow
// the public suite https://github.com/sagikazarmark/tus-conformance-tests (76aa29a). Where that suite is stricter than the
// text (a 409 carries Upload-Offset) the stricter reading is tested.
import { createHash } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { metadata, tusAs } from '../fixtures/tus.ts';

let rig: Rig;
let clip: Buffer;
let tus: ReturnType<typeof tusAs>;
beforeAll(async () => {
  rig = await startRig({ MAX_UPLOAD_BYTES: '1000000' });
  clip = await smallClip();
  tus = tusAs(rig.as('field'), rig.film);
});
afterAll(() => rig.close());

const BYTES = Buffer.from('hello world');
const sha1 = (bytes: Uint8Array) => `sha1 ${createHash('sha1').update(bytes).digest('base64')}`;
const offsetOf = async (url: string) => (await tus.head(url)).headers.get('upload-offset');
const code = async (answer: Response) => ((await answer.json()) as { code: string }).code;

describe('version', () => {
  it.each([
    ['missing', {}],
    ['unsupported', { 'tus-resumable': '0.2.2' }],
  ])('Tus-Resumable %s: 412 with Tus-Version, and nothing is made', async (_, headers) => {
    const before = await rig.db.upload.count();
    const answer = await rig.as('field').fetch(tus.uploads, { method: 'POST', headers: { 'upload-length': '11', ...headers } });
    expect([answer.status, answer.headers.get('tus-version'), await code(answer)]).toEqual([412, '1.0.0', 'upload-version']);
    expect(await rig.db.upload.count()).toBe(before);
  });

  it('every answer but the one to OPTIONS carries Tus-Resumable, refusals too', async () => {
    const url = await tus.begin(11);
    const answers = [await tus.head(url), await tus.patch(url, 5, BYTES), await tus.patch(url, 0, BYTES.subarray(0, 5)), await tus.remove(url), await tus.head(url), await tus.create({ 'upload-length': 'x' })];
    const nobody = await rig.as('nobody').fetch(tus.uploads, { method: 'POST', headers: { 'tus-resumable': '1.0.0' } });
    for (const answer of [...answers, nobody]) expect(answer.headers.get('tus-resumable')).toBe('1.0.0');
    expect(nobody.status).toBe(401);
  });
});

describe('OPTIONS', () => {
  it('tells what is offered, whatever Tus-Resumable says, and to anybody', async () => {
    for (const headers of [{}, { 'tus-resumable': '0.2.2' }]) {
      const answer = await rig.as('nobody').fetch(tus.uploads, { method: 'OPTIONS', headers });
      expect(answer.status).toBe(204);
      expect(answer.headers.get('tus-version')).toBe('1.0.0');
      expect(answer.headers.get('tus-max-size')).toBe('1000000');
      expect(answer.headers.get('tus-checksum-algorithm')?.split(',')).toContain('sha1');
      expect(answer.headers.get('tus-extension')?.split(',').sort()).toEqual(['checksum', 'creation', 'creation-defer-length', 'creation-with-upload', 'expiration', 'termination']);
    }
  });
});

describe('HEAD', () => {
  it('tells offset (0 too), length and metadata as sent, and is not cached', async () => {
    const said = metadata({ filename: 'A001C003.mp4', relativePath: 'DCIM/A001C003.mp4', empty: '' });
    const made = await tus.create({ 'upload-length': '11', 'upload-metadata': said });
    const answer = await tus.head(made.headers.get('location')!);
    expect([200, 204]).toContain(answer.status);
    expect(answer.headers.get('upload-offset')).toBe('0');
    expect(answer.headers.get('upload-length')).toBe('11');
    expect(answer.headers.get('upload-metadata')).toBe(said);
    expect(answer.headers.get('cache-control')).toBe('no-store');
  });

  it('of a complete one still tells the offset', async () => {
    const url = await tus.begin(clip.byteLength);
    expect((await tus.patch(url, 0, clip)).status).toBe(204);
    const answer = await tus.head(url);
    expect([answer.status, answer.headers.get('upload-offset'), answer.headers.get('upload-length')]).toEqual([200, String(clip.byteLength), String(clip.byteLength)]);
  });

  it('of one that is not there: 404 and no Upload-Offset', async () => {
    const answer = await tus.head(`${tus.uploads}/00000000-0000-4000-8000-000000000000`);
    expect([answer.status, answer.headers.get('upload-offset')]).toEqual([404, null]);
  });
});

describe('PATCH', () => {
  it('at the right offset: 204 with the offset after it', async () => {
    const url = await tus.begin(100);
    const first = await tus.patch(url, 0, Buffer.alloc(70));
    expect([first.status, first.headers.get('upload-offset')]).toEqual([204, '70']);
    expect(await offsetOf(url)).toBe('70');
  });

  it('30 bytes at 70 of 100 end at 100 (worked example of protocol.md), here with a clip of 30 more', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength);
    await tus.patch(url, 0, bytes.subarray(0, -30));
    const answer = await tus.patch(url, bytes.byteLength - 30, bytes.subarray(-30));
    expect([answer.status, answer.headers.get('upload-offset')]).toEqual([204, String(bytes.byteLength)]);
  });

  it('at another offset: 409, nothing changed, and where it stands', async () => {
    const url = await tus.begin(11);
    await tus.patch(url, 0, BYTES.subarray(0, 4));
    const answer = await tus.patch(url, 6, BYTES.subarray(6));
    expect([answer.status, answer.headers.get('upload-offset'), await code(answer)]).toEqual([409, '4', 'wrong-offset']);
    expect(await offsetOf(url)).toBe('4');
  });

  it.each(['text/plain', 'application/json', 'application/octet-stream'])('as %s: 415', async (type) => {
    const url = await tus.begin(11);
    const answer = await tus.patch(url, 0, BYTES, { 'content-type': type });
    expect([answer.status, await code(answer)]).toEqual([415, 'upload-type']);
    expect(await offsetOf(url)).toBe('0');
  });

  it('without an offset, or with one that is no number: 400', async () => {
    const url = await tus.begin(11);
    for (const offset of ['', '-1', '1.5', 'x']) expect((await tus.patch(url, 0, BYTES, { 'upload-offset': offset })).status).toBe(400);
  });

  it('of one that is not there: 404', async () => {
    expect((await tus.patch(`${tus.uploads}/00000000-0000-4000-8000-000000000000`, 0, BYTES)).status).toBe(404);
  });

  it('with more bytes than were announced is refused and adds none', async () => {
    const url = await tus.begin(5);
    const answer = await tus.patch(url, 0, BYTES);
    expect([answer.status, await code(answer)]).toEqual([400, 'wrong-length']);
    expect(await offsetOf(url)).toBe('0');
  });
});

describe('creation', () => {
  it('Upload-Length: 201 with a Location that works', async () => {
    const answer = await tus.create({ 'upload-length': '11' });
    expect(answer.status).toBe(201);
    expect(await offsetOf(new URL(answer.headers.get('location')!, rig.url).pathname)).toBe('0');
  });

  it('Upload-Length 0: 201 and complete at once, with the film\'s own word on an empty file', async () => {
    const answer = await tus.create({ 'upload-length': '0' });
    expect([answer.status, await code(answer)]).toEqual([201, 'empty-file']);
    const head = await tus.head(answer.headers.get('location')!);
    expect([head.status, head.headers.get('upload-offset'), head.headers.get('upload-length')]).toEqual([200, '0', '0']);
  });

  it.each([
    ['no length at all', {}],
    ['a negative length', { 'upload-length': '-1' }],
    ['a length that is no number', { 'upload-length': 'eleven' }],
    ['both kinds of length', { 'upload-length': '11', 'upload-defer-length': '1' }],
    ['Upload-Defer-Length other than 1', { 'upload-defer-length': '2' }],
  ])('%s: 400', async (_, headers) => {
    expect((await tus.create(headers as Record<string, string>)).status).toBe(400);
  });

  it('a length above Tus-Max-Size: 413', async () => {
    const answer = await tus.create({ 'upload-length': '1000001' });
    expect([answer.status, await code(answer)]).toEqual([413, 'too-large']);
    expect((await tus.create({ 'upload-length': '1000000' })).status).toBe(201);
  });

  it.each([
    ['a key twice', 'filename YQ==,filename Yg=='],
    ['an empty key', 'filename YQ==, YQ=='],
    ['a value that is not Base64', 'filename a-b'],
    ['more than a key and a value', 'filename YQ== Yg=='],
  ])('metadata with %s: 400', async (_, value) => {
    expect((await tus.create({ 'upload-length': '11', 'upload-metadata': value })).status).toBe(400);
  });
});

describe('creation-with-upload', () => {
  const type = { 'content-type': 'application/offset+octet-stream' };
  it('takes the bytes that come along: 201 with the offset after them', async () => {
    const answer = await tus.create({ 'upload-length': '11', ...type }, BYTES.subarray(0, 5));
    expect([answer.status, answer.headers.get('upload-offset')]).toEqual([201, '5']);
    expect(await offsetOf(answer.headers.get('location')!)).toBe('5');
  });

  it('takes a whole file', async () => {
    const bytes = await smallClip();
    const answer = await tus.create({ 'upload-length': String(bytes.byteLength), ...type }, bytes);
    expect([answer.status, answer.headers.get('upload-offset')]).toEqual([201, String(bytes.byteLength)]);
    expect(await offsetOf(answer.headers.get('location')!)).toBe(String(bytes.byteLength));
  });

  it('a body of another type is not taken for bytes of the file', async () => {
    const answer = await tus.create({ 'upload-length': '11', 'content-type': 'text/plain' }, BYTES.subarray(0, 5));
    expect(answer.status).toBe(201);
    expect(await offsetOf(answer.headers.get('location')!)).toBe('0');
  });
});

describe('creation-defer-length', () => {
  it('says so until the length is known, and then keeps it', async () => {
    const bytes = await smallClip();
    const made = await tus.create({ 'upload-defer-length': '1' });
    const url = made.headers.get('location')!;
    expect((await tus.head(url)).headers.get('upload-defer-length')).toBe('1');
    await tus.patch(url, 0, bytes.subarray(0, 10));
    expect((await tus.head(url)).headers.get('upload-length')).toBeNull();
    await tus.patch(url, 10, bytes.subarray(10, 20), { 'upload-length': String(bytes.byteLength) });
    const known = await tus.head(url);
    expect([known.headers.get('upload-length'), known.headers.get('upload-defer-length')]).toEqual([String(bytes.byteLength), null]);
    expect((await tus.patch(url, 20, bytes.subarray(20), { 'upload-length': '99999' })).status).toBe(400);
    expect((await tus.patch(url, 20, bytes.subarray(20))).status).toBe(204);
  });

  it('a length declared late meets the same limit', async () => {
    const url = (await tus.create({ 'upload-defer-length': '1' })).headers.get('location')!;
    expect((await tus.patch(url, 0, BYTES, { 'upload-length': '1000001' })).status).toBe(413);
  });
});

describe('expiration', () => {
  it('is told as an HTTP date on POST and PATCH, and afterwards the upload is gone', async () => {
    const made = await tus.create({ 'upload-length': '11' });
    const url = made.headers.get('location')!;
    const patched = await tus.patch(url, 0, BYTES.subarray(0, 5));
    for (const answer of [made, patched]) {
      const expires = answer.headers.get('upload-expires')!;
      expect(new Date(expires).toUTCString()).toBe(expires);
      expect(new Date(expires).getTime()).toBeGreaterThan(Date.now());
    }
    const short = await startRig({ UPLOAD_EXPIRES_HOURS: String(1 / 3_600_000) });
    try {
      const brief = tusAs(short.as('field'), short.film);
      const gone = await brief.begin(11);
      expect((await brief.patch(gone, 0, BYTES.subarray(0, 5))).status).toBe(410);
      expect((await brief.head(gone)).status).toBe(410);
    } finally {
      await short.close();
    }
  });
});

describe('checksum', () => {
  it('of protocol.md: sha1 of "hello world" is Kq5sNclPz7QV2+lfQIuc6R7oRu0=', () => {
    expect(sha1(BYTES)).toBe('sha1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=');
  });

  it.each(['sha1', 'sha256', 'md5'])('that matches (%s): the chunk is kept', async (algorithm) => {
    const url = await tus.begin(22);
    const sum = createHash(algorithm).update(BYTES).digest('base64');
    const answer = await tus.patch(url, 0, BYTES, { 'upload-checksum': `${algorithm} ${sum}` });
    expect([answer.status, await offsetOf(url)]).toEqual([204, '11']);
  });

  it('that does not match: 460, the chunk dropped, and the same place takes the right bytes', async () => {
    const bytes = await smallClip();
    const half = bytes.byteLength >> 1;
    const url = await tus.begin(bytes.byteLength);
    await tus.patch(url, 0, bytes.subarray(0, half), { 'upload-checksum': sha1(bytes.subarray(0, half)) });
    const damaged = await tus.patch(url, half, Buffer.alloc(bytes.byteLength - half), { 'upload-checksum': sha1(bytes.subarray(half)) });
    expect([damaged.status, await code(damaged), await offsetOf(url)]).toEqual([460, 'chunk-damaged', String(half)]);
    expect((await tus.patch(url, half, bytes.subarray(half), { 'upload-checksum': sha1(bytes.subarray(half)) })).status).toBe(204);
  });

  it.each([
    ['sha0 Kq5sNclPz7QV2+lfQIuc6R7oRu0=', 'unknown-algorithm'],
    ['SHA1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=', 'unknown-algorithm'],
    ['sha1 short', 'bad-input'],
    ['sha1', 'bad-input'],
  ])('%s: 400 and the chunk dropped', async (header, expected) => {
    const url = await tus.begin(22);
    const answer = await tus.patch(url, 0, BYTES, { 'upload-checksum': header });
    expect([answer.status, await code(answer), await offsetOf(url)]).toEqual([400, expected, '0']);
  });
});

describe('termination', () => {
  it('204, then 410, and nothing stays on the disk', async () => {
    const url = await tus.begin(11);
    await tus.patch(url, 0, BYTES.subarray(0, 5));
    expect((await tus.remove(url)).status).toBe(204);
    expect([(await tus.head(url)).status, (await tus.patch(url, 5, BYTES.subarray(5))).status, (await tus.remove(url)).status]).toEqual([410, 410, 410]);
    expect(readdirSync(rig.ground.storage.path('incoming', '')).filter((name) => name.includes(url.split('/').at(-1)!))).toEqual([]);
  });

  it('of one that is not there: 404', async () => {
    expect((await tus.remove(`${tus.uploads}/00000000-0000-4000-8000-000000000000`)).status).toBe(404);
  });
});

describe('concatenation', () => {
  it('is not offered: no Tus-Extension names it, and asking for it makes nothing', async () => {
    const offered = await rig.as('field').fetch(tus.uploads, { method: 'OPTIONS' });
    expect(offered.headers.get('tus-extension')).not.toContain('concatenation');
    for (const headers of [{ 'upload-concat': 'partial', 'upload-length': '5' }, { 'upload-concat': `final;${tus.uploads}/a ${tus.uploads}/b` }]) {
      const answer = await tus.create(headers as Record<string, string>);
      expect([answer.status, answer.headers.get('location')]).toEqual([400, null]);
    }
  });
});

describe('X-HTTP-Method-Override', () => {
  it('is taken as the method', async () => {
    const url = await tus.begin(22);
    const patched = await tus.send('POST', url, { 'x-http-method-override': 'PATCH', 'upload-offset': '0', 'content-type': 'application/offset+octet-stream' }, BYTES);
    expect([patched.status, patched.headers.get('upload-offset')]).toEqual([204, '11']);
    expect((await tus.send('POST', url, { 'x-http-method-override': 'DELETE' })).status).toBe(204);
    expect((await tus.head(url)).status).toBe(410);
  });
});
