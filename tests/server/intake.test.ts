import { existsSync, readdirSync, readFileSync } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { xxhash64 } from 'hash-wasm';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { RunningHashes } from '../../server/intake/running-hash.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { metadata, tusAs } from '../fixtures/tus.ts';

let rig: Rig;
let tus: ReturnType<typeof tusAs>;
beforeAll(async () => {
  rig = await startRig({ MAX_UPLOAD_BYTES: '5000000' });
  tus = tusAs(rig.as('field'), rig.film);
});
afterAll(() => rig.close());
// Whatever was refused, nothing half kept: the incoming area holds only what is still arriving.
afterEach(async () => {
  const open = (await rig.db.upload.findMany({ where: { state: 'arriving' } })).map(({ id }) => id);
  expect(incoming().filter((name) => !open.some((id) => name.includes(id)))).toEqual([]);
});

const incoming = () => readdirSync(rig.ground.storage.path('incoming', ''));
const problem = async (answer: Response) => (await answer.json()) as { code: string; detail: string; fields?: { field: string }[] };
const uploadOf = (url: string) => rig.db.upload.findUniqueOrThrow({ where: { id: url.split('/').at(-1)! } });
const original = (path: string) => rig.ground.storage.path('originals', path);

const sumOf = (bytes: Buffer): Promise<string> => xxhash64(bytes);

describe('a file that arrives', () => {
  it('becomes a clip at a readable place, with its checksum, a job and an event', async () => {
    const bytes = await smallClip();
    const xxh64 = await sumOf(bytes);
    const url = await tus.begin(bytes.byteLength, { filename: 'A001C007.mp4', relativePath: 'A001/DCIM/A001C007.mp4', camera: 'A', card: 'A001', xxh64 });
    expect(await uploadOf(url)).toMatchObject({ state: 'arriving', camera: 'A', card: 'A001', bytes: BigInt(bytes.byteLength) });
    expect((await tus.patch(url, 0, bytes)).status).toBe(204);

    const upload = await uploadOf(url);
    expect(upload.state).toBe('arrived');
    const clip = await rig.db.clip.findUniqueOrThrow({ where: { id: upload.clipId! } });
    expect(clip).toMatchObject({ name: 'A001C007.mp4', camera: 'A', card: 'A001', state: 'received', xxh64, sourceXxh64: xxh64, bytes: BigInt(bytes.byteLength), uploadedById: rig.as('field').userId });
    expect(clip.originalPath).toBe(`the-last-ferry-test-${rig.film.slice(-8)}/A001/A001/DCIM/A001C007.mp4`);
    expect(readFileSync(original(clip.originalPath)).equals(bytes)).toBe(true);
    const jobs = await rig.db.$queryRaw<unknown[]>`SELECT 1 FROM jobs.job WHERE name = 'proxy' AND data->>'clipId' = ${clip.id}`;
    expect(jobs).toHaveLength(1);
    const event = await rig.db.event.findFirstOrThrow({ where: { filmId: rig.film, kind: 'clip.received', subject: clip.id } });
    expect(event.rows).toMatchObject({ clips: [{ id: clip.id, checkedAtSource: true }], uploads: [{ id: upload.id, state: 'arrived' }] });
  });

  it('has one sum, over whichever chunks it came in', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength);
    const step = Math.ceil(bytes.byteLength / 7);
    for (let at = 0; at < bytes.byteLength; at += step) await tus.patch(url, at, bytes.subarray(at, at + step));
    const clip = await rig.db.clip.findUniqueOrThrow({ where: { id: (await uploadOf(url)).clipId! } });
    expect([clip.xxh64, clip.sourceXxh64]).toEqual([await sumOf(bytes), null]);
  });

  it.each([
    // Computed with xxhsum, the reference implementation (https://github.com/Cyan4973/xxHash): seed 0, big-endian hex.
    ['', 'ef46db3751d8e999'],
    ['abc', '44bc2cf5ad770999'],
    ['hello world', '45ab6734b21e6968'],
  ])('xxh64 of %j is %s, read from disk or summed while it arrives', async (text, sum) => {
    const path = rig.ground.storage.path('proxies', 'sum-of-words');
    await writeFile(path, text);
    const hashes = new RunningHashes();
    expect(await hashes.digest('read', path, text.length)).toBe(sum);
    const feed = await hashes.from('fed', path, 0);
    for (const letter of text) feed(Buffer.from(letter));
    expect(await hashes.digest('fed', path, text.length)).toBe(sum);
  });

  it('of the same name as another is kept beside it', async () => {
    const [one, other] = [await smallClip(), await smallClip()];
    await tus.whole(one, { filename: 'MVI_0001.mp4', card: 'twice' });
    await tus.whole(other, { filename: 'MVI_0001.mp4', card: 'twice' });
    const clips = await rig.db.clip.findMany({ where: { card: 'twice' }, orderBy: { receivedAt: 'asc' } });
    expect(new Set(clips.map(({ originalPath }) => originalPath)).size).toBe(2);
    expect(clips.map(({ originalPath }) => readFileSync(original(originalPath)).byteLength)).toEqual([one.byteLength, other.byteLength]);
  });

  it.each([
    ['../../../../etc/cron.d/x.mp4', /\/no card\/etc\/cron\.d\/x\.mp4$/],
    ['..\\..\\windows\\x.mp4', /\/no card\/windows\/x\.mp4$/],
    ['/absolute/x.mp4', /\/no card\/absolute\/x\.mp4$/],
    ['card/CON.mp4', /\/no card\/card\/_CON\.mp4$/],
    ['a\u0000b/c:d?.mp4', /\/no card\/a_b\/c_d_\.mp4$/],
  ])('named %j stays inside the originals', async (relativePath, place) => {
    const url = await tus.begin(1, { relativePath });
    await tus.remove(url);
    const bytes = await smallClip();
    const clipUrl = await tus.begin(bytes.byteLength, { filename: '', relativePath });
    await tus.patch(clipUrl, 0, bytes);
    const clip = await rig.db.clip.findUniqueOrThrow({ where: { id: (await uploadOf(clipUrl)).clipId! } });
    expect(clip.originalPath).toMatch(place);
    expect(existsSync(original(clip.originalPath))).toBe(true);
  });
});

describe('a file sent twice', () => {
  it('is recognised and not stored twice', async () => {
    const bytes = await smallClip();
    const first = await uploadOf(await sent(bytes, { filename: 'one.mp4' }));
    const second = await uploadOf(await sent(bytes, { filename: 'the same.mp4', card: 'another' }));
    expect([second.state, second.clipId]).toEqual(['arrived', first.clipId]);
    expect(await rig.db.clip.count({ where: { xxh64: await sumOf(bytes) } })).toBe(1);
  });

  it('at the same moment by eight senders is one clip', async () => {
    const bytes = await smallClip();
    const urls = await Promise.all(Array.from({ length: 8 }, () => tus.begin(bytes.byteLength, { filename: 'race.mp4' })));
    const answers = await Promise.all(urls.map((url) => tus.patch(url, 0, bytes)));
    expect(answers.map(({ status }) => status)).toEqual(Array.from({ length: 8 }, () => 204));
    const uploads = await Promise.all(urls.map(uploadOf));
    expect(new Set(uploads.map(({ clipId }) => clipId)).size).toBe(1);
    const clip = await rig.db.clip.findUniqueOrThrow({ where: { id: uploads[0]!.clipId! } });
    const folder = original(clip.originalPath.split('/').slice(0, -1).join('/'));
    expect(readdirSync(folder).filter((name) => name.startsWith('race'))).toHaveLength(1);
  });

  it('comes in anew when its clip was taken out of the film', async () => {
    const bytes = await smallClip();
    const first = await uploadOf(await sent(bytes, {}));
    await rig.as('editor').del(rig.at(`/clips/${first.clipId}`));
    const second = await uploadOf(await sent(bytes, {}));
    expect(second.state).toBe('arrived');
    expect(second.clipId).not.toBe(first.clipId);
  });

  it('counts as checked at the source once it came with a sum made there', async () => {
    const bytes = await smallClip();
    const { clipId } = await uploadOf(await sent(bytes, {}));
    expect((await rig.db.clip.findUniqueOrThrow({ where: { id: clipId! } })).sourceXxh64).toBeNull();
    await sent(bytes, { xxh64: await sumOf(bytes) });
    expect((await rig.db.clip.findUniqueOrThrow({ where: { id: clipId! } })).sourceXxh64).toBe(await sumOf(bytes));
  });
});

async function sent(bytes: Buffer, said: Record<string, string>): Promise<string> {
  const url = await tus.begin(bytes.byteLength, said);
  await tus.patch(url, 0, bytes);
  return url;
}

describe('refused', () => {
  const cases: [string, () => Promise<Buffer>, number, string][] = [
    ['words', async () => Buffer.from('Dear Maren, the tide table is wrong.\n'.repeat(50)), 415, 'not-a-video'],
    ['a picture', async () => Buffer.from('89504e470d0a1a0a0000000d49484452', 'hex'), 415, 'not-a-video'],
    ['a playlist', async () => Buffer.from('#EXTM3U\n#EXTINF:6,\nhttp://127.0.0.1:9/x.ts\n#EXT-X-ENDLIST\n'), 415, 'refused-format'],
    ['a concat script', async () => Buffer.from("ffconcat version 1.0\nfile '/etc/passwd'\n"), 415, 'refused-format'],
    ['a clip cut short', async () => (await smallClip()).subarray(0, -100), 422, 'cut-short'],
    ['random bytes', async () => Buffer.alloc(3000, 7), 415, 'not-a-video'],
  ];
  it.each(cases)('%s: coded, written on the upload, nothing kept', async (_, make, status, code) => {
    const bytes = await make();
    const url = await tus.begin(bytes.byteLength, { filename: 'looks-fine.mp4' });
    const answer = await tus.patch(url, 0, bytes);
    expect([answer.status, answer.headers.get('content-type')]).toEqual([status, 'application/problem+json; charset=utf-8']);
    const { detail } = await problem(answer);
    expect(await uploadOf(url)).toMatchObject({ state: 'refused', clipId: null, refusal: { code, detail } });
    expect((await tus.head(url)).status).toBe(410);
  });

  it.each(cases)('%s, sent plainly: the same code, nothing kept', async (_, make, status, code) => {
    const answer = await plain([['file', new File([new Uint8Array(await make())], 'looks-fine.mp4')]]);
    expect([answer.status, (await problem(answer)).code]).toEqual([status, code]);
  });

  it('early: a file that is no video is refused by its first 64 KiB, not after all of it', async () => {
    const url = await tus.begin(4_000_000, { filename: 'long.mp4' });
    const answer = await tus.patch(url, 0, Buffer.alloc(70_000, 1));
    expect([answer.status, (await problem(answer)).code]).toEqual([415, 'not-a-video']);
    expect((await uploadOf(url)).state).toBe('refused');
  });

  it('early, with the rest of a long chunk still coming: the answer is heard all the same, either way in', async () => {
    const bytes = Buffer.alloc(4_900_000, 1);
    const url = await tus.begin(bytes.byteLength, { filename: 'long-too.mp4' });
    const answers = [await tus.patch(url, 0, bytes), await plain([['file', file(bytes, 'long-plain.mp4')]]), await plain([['lens', '35'], ['file', file(bytes, 'long-plain.mp4')]])];
    expect(await Promise.all(answers.map(async (answer) => [answer.status, (await problem(answer)).code]))).toEqual([[415, 'not-a-video'], [415, 'not-a-video'], [400, 'bad-input']]);
  });

  it('a file whose sum is not the one made at the source', async () => {
    const bytes = await smallClip();
    const url = await tus.begin(bytes.byteLength, { xxh64: '0123456789abcdef' });
    const answer = await tus.patch(url, 0, bytes);
    expect([answer.status, (await problem(answer)).code]).toEqual([409, 'wrong-checksum']);
    expect((await uploadOf(url)).refusal).toMatchObject({ code: 'wrong-checksum' });
    expect(await rig.db.clip.count({ where: { xxh64: await sumOf(bytes) } })).toBe(0);
  });

  it('a file that is too large, before a byte of it is sent; the card\'s page knows of it', async () => {
    const answer = await tus.create({ 'upload-length': '5000001', 'upload-metadata': metadata({ filename: 'huge.mp4', card: 'A001' }) });
    expect([answer.status, (await problem(answer)).code]).toEqual([413, 'too-large']);
    expect(await rig.db.upload.findFirst({ where: { name: 'huge.mp4' } })).toMatchObject({ state: 'refused', card: 'A001', refusal: { code: 'too-large' } });
    const plainly = await plain([['file', new File([new Uint8Array(5_000_001)], 'huge-too.mp4')]]);
    expect(['too-large', 'not-a-video']).toContain((await problem(plainly)).code);
  });

  it('an empty file, either way', async () => {
    const answer = await tus.create({ 'upload-length': '0', 'upload-metadata': metadata({ filename: 'empty.mp4' }) });
    expect((await problem(answer)).code).toBe('empty-file');
    expect(await rig.db.upload.findFirst({ where: { name: 'empty.mp4' } })).toMatchObject({ state: 'refused', refusal: { code: 'empty-file' } });
    const plainly = await plain([['file', new File([], 'empty-too.mp4')]]);
    expect([plainly.status, (await problem(plainly)).code]).toEqual([400, 'empty-file']);
  });

  it('fields that cannot be used, each named', async () => {
    const answer = await tus.create({ 'upload-length': '11', 'upload-metadata': metadata({ filename: 'a.mp4', xxh64: 'nonsense', camera: 'x'.repeat(41) }) });
    const { code, fields } = await problem(answer);
    expect([answer.status, code, fields?.map(({ field }) => field)]).toEqual([400, 'bad-input', ['camera', 'xxh64']]);
  });

  it('leaves the rest of the card unharmed', async () => {
    const [first, last] = [await smallClip(), await smallClip()];
    const said = { card: 'B002' };
    await tus.whole(first, { ...said, filename: '1.mp4' });
    await tus.whole(Buffer.from('no video at all'), { ...said, filename: '2.mp4' });
    await tus.whole(last, { ...said, filename: '3.mp4' });
    const uploads = await rig.db.upload.findMany({ where: { card: 'B002' }, orderBy: { name: 'asc' } });
    expect(uploads.map(({ state }) => state)).toEqual(['arrived', 'refused', 'arrived']);
    expect(await rig.db.clip.count({ where: { card: 'B002' } })).toBe(2);
  });
});

describe('whose upload it is', () => {
  it('another member of the same role cannot touch or even see it; who may edit clips can', async () => {
    const url = await tus.begin(11);
    const other = tusAs(await rig.join('field'), rig.film);
    expect([(await other.head(url)).status, (await other.patch(url, 0, Buffer.alloc(5))).status, (await other.remove(url)).status]).toEqual([404, 404, 404]);
    expect((await tusAs(rig.as('assistant'), rig.film).head(url)).status).toBe(200);
    expect((await tusAs(rig.as('viewer'), rig.film).head(url)).status).toBe(403);
    expect((await tus.remove(url)).status).toBe(204);
  });

  it('an upload of one film is not there in another', async () => {
    const url = await tus.begin(11);
    const film = await rig.db.film.create({ data: { title: 'Other', rateNum: 25, rateDen: 1, targetFrames: 100, members: { create: { userId: rig.as('field').userId, role: 'director' } } } });
    expect((await tus.head(url.replace(rig.film, film.id))).status).toBe(404);
    await tus.remove(url);
  });
});

async function plain(parts: [string, string | File][]): Promise<Response> {
  const form = new FormData();
  for (const [name, value] of parts) {
    if (typeof value === 'string') form.append(name, value);
    else form.append(name, value, value.name);
  }
  return rig.as('field').fetch(rig.at('/clips/files'), { method: 'POST', body: form });
}

const file = (bytes: Buffer, name: string) => new File([new Uint8Array(bytes)], name);

describe('multipart', () => {
  it('one file: 201 with its clip; again: 200 and a header that says so', async () => {
    const bytes = await smallClip();
    const parts: [string, string | File][] = [['camera', 'D'], ['card', 'D001'], ['xxh64', await sumOf(bytes)], ['file', file(bytes, 'DJI_0001.mp4')]];
    const first = await plain(parts);
    const clip = (await first.json()) as { id: string };
    expect([first.status, clip]).toEqual([201, expect.objectContaining({ name: 'DJI_0001.mp4', camera: 'D', card: 'D001', checkedAtSource: true, xxh64: await sumOf(bytes) })]);
    const again = await plain(parts);
    expect([again.status, again.headers.get('x-rushlight-duplicate'), ((await again.json()) as { id: string }).id]).toEqual([200, 'true', clip.id]);
  });

  it('several: each is answered for itself, and a sum speaks of the next file only', async () => {
    const [one, two] = [await smallClip(), await smallClip()];
    const answer = await plain([
      ['card', 'C001'],
      ['xxh64', await sumOf(one)],
      ['file', file(one, 'one.mp4')],
      ['file', file(Buffer.from('no video'), 'two.mp4')],
      ['relativePath', 'XDROOT/three.mp4'],
      ['file', file(two, 'three.mp4')],
    ]);
    expect(answer.status).toBe(207);
    expect(await answer.json()).toMatchObject([
      { name: 'one.mp4', duplicate: false, problem: null, clip: { card: 'C001', checkedAtSource: true } },
      { name: 'two.mp4', clip: null, problem: { code: 'not-a-video' } },
      { name: 'three.mp4', problem: null, clip: { card: 'C001', checkedAtSource: false } },
    ]);
    expect((await rig.db.clip.findFirstOrThrow({ where: { name: 'three.mp4' } })).originalPath).toMatch(/\/C001\/XDROOT\/three\.mp4$/);
  });

  it('a wrong sum, an unknown field, no file, no multipart: each refused in its own words', async () => {
    const bytes = await smallClip();
    const codes = [];
    for (const parts of [[['xxh64', '0123456789abcdef'], ['file', file(bytes, 'x.mp4')]], [['lens', '35'], ['file', file(bytes, 'x.mp4')]], [['card', 'A']]] as [string, string | File][][]) {
      const answer = await plain(parts);
      codes.push([answer.status, (await problem(answer)).code]);
    }
    const json = await rig.as('field').post(rig.at('/clips/files'), { card: 'A' });
    expect([...codes, [json.status, json.body.code]]).toEqual([[409, 'wrong-checksum'], [400, 'bad-input'], [400, 'bad-input'], [400, 'bad-input']]);
  });
});
