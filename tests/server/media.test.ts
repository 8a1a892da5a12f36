import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { segmentIsOffered, stillIsOffered, withGaps } from '../../server/proxies/offered.ts';
import { rangeOf } from '../../server/platform/serve.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { makeSource, receive } from '../fixtures/clips.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let clipId: string;
let version: string;
let dir: string;

beforeAll(async () => {
  rig = await startRig();
  dir = await mkdtemp(join(tmpdir(), 'rushlight-media-'));
  clipId = await madeClip('ferry.mov');
  version = (await rig.db.clip.findUniqueOrThrow({ where: { id: clipId } })).proxyVersion!;
});
afterAll(async () => {
  await rig.close();
  await rm(dir, { recursive: true, force: true });
});

/** A real proxy of ten seconds at 25 frames a second: five segments. */
async function madeClip(name: string): Promise<string> {
  const { id } = await receive(rig.ground, rig.film, await makeSource(join(dir, name), { seconds: 10, size: '640x360' }));
  await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
  return id;
}

async function offer(range: { in: number; outExclusive: number }): Promise<string> {
  const part = await rig.db.item.create({ data: { filmId: rig.film, kind: 'part', orderKey: 'a0', name: 'The crossing' } });
  const slot = await rig.db.item.create({ data: { filmId: rig.film, kind: 'slot', parentId: part.id, orderKey: 'a0', name: 'Bow wave' } });
  const select = await rig.db.select.create({ data: { filmId: rig.film, clipId, ...range, madeById: 'test' } });
  const row = await rig.db.offer.create({ data: { filmId: rig.film, slotId: slot.id, selectId: select.id, clipId, ...range, orderKey: 'a0', offeredById: 'test' } });
  return row.id;
}

const at = (file: string, of = version) => rig.at(`/media/${clipId}/${of}/${file}`);
const status = async (person: Person, file: string) => (await rig.as(person).fetch(at(file))).status;
const segments = async (person: Person, list: string): Promise<string[]> => {
  const { body } = await rig.as(person).get(at(list));
  return (body as string).split('\n').filter((line) => line !== '' && !line.startsWith('#'));
};

describe('the files of a proxy', () => {
  it('are for the crew, not for strangers, and for a viewer only while something is on offer', async () => {
    for (const person of ['director', 'editor', 'assistant', 'field'] as const) expect(await status(person, 'master.m3u8')).toBe(200);
    expect(await status('nobody', 'master.m3u8')).toBe(401);
    expect(await status('stranger', 'master.m3u8')).toBe(404);
    expect(await status('viewer', 'master.m3u8')).toBe(404);
  });

  it('are whole: every file the playlists name is there, with a type that players know', async () => {
    const lists = await segments('editor', 'master.m3u8');
    expect(lists).toContain('picture.m3u8');
    for (const file of await segments('editor', 'picture.m3u8')) {
      const answer = await rig.as('editor').fetch(at(file));
      expect([answer.status, answer.headers.get('content-type')]).toEqual([200, 'video/iso.segment']);
    }
    const init = /URI="([^"]+)"/.exec((await rig.as('editor').get(at('picture.m3u8'))).body as string)?.[1];
    expect(await status('editor', init!)).toBe(200);
    for (const file of ['stills/000001.jpg', 'stills/000010.jpg', 'peaks.json', 'traces.json', 'sound.m3u8']) expect([file, await status('editor', file)]).toEqual([file, 200]);
  });

  it('of a finished proxy may be kept, and are not sent again', async () => {
    const first = await rig.as('editor').fetch(at('stills/000001.jpg'));
    expect(first.headers.get('cache-control')).toBe('private, max-age=31536000, immutable');
    const again = await rig.as('editor').fetch(at('stills/000001.jpg'), { headers: { 'if-none-match': first.headers.get('etag')! } });
    expect(again.status).toBe(304);
  });

  it.each([
    'nothing.mp4',
    '../../../originals/test',
    '..%2f..%2f..%2foriginals',
    '%2e%2e/%2e%2e/.rushlight',
    'stills/..%2f..%2fpicture.m3u8',
    'stills/../../../.rushlight',
    'picture.m3u8%00.jpg',
  ])('and nothing beside them: %s', async (file) => {
    const answer = await rig.as('director').fetch(at(file));
    expect([answer.status, answer.headers.get('content-type')]).toEqual([404, 'application/problem+json; charset=utf-8']);
  });

  it('are not found under another version, clip or film', async () => {
    expect((await rig.as('editor').fetch(at('master.m3u8', 'other'))).status).toBe(404);
    const other = await rig.db.film.create({ data: { title: 'Another', rateNum: 25, rateDen: 1, targetFrames: 100, members: { create: { userId: rig.as('editor').userId, role: 'editor' } } } });
    expect((await rig.as('editor').fetch(`/api/films/${other.id}/media/${clipId}/${version}/master.m3u8`)).status).toBe(404);
  });

  it('end for a member who is taken off the film, at the next file', async () => {
    const leaver = await rig.join('field');
    expect((await leaver.fetch(at('master.m3u8'))).status).toBe(200);
    await rig.as('director').del(rig.at(`/members/${leaver.userId}`));
    expect((await leaver.fetch(at('master.m3u8'))).status).toBe(404);
  });
});

describe('byte ranges (RFC 9110, 14)', () => {
  it('answer with exactly the bytes asked for', async () => {
    const whole = Buffer.from(await (await rig.as('editor').fetch(at('stills/000001.jpg'))).arrayBuffer());
    const ask = async (range: string) => {
      const answer = await rig.as('editor').fetch(at('stills/000001.jpg'), { headers: { range } });
      return [answer.status, answer.headers.get('content-range'), Buffer.from(await answer.arrayBuffer())];
    };
    expect(await ask('bytes=0-99')).toEqual([206, `bytes 0-99/${whole.length}`, whole.subarray(0, 100)]);
    expect(await ask('bytes=100-')).toEqual([206, `bytes 100-${whole.length - 1}/${whole.length}`, whole.subarray(100)]);
    expect(await ask('bytes=-50')).toEqual([206, `bytes ${whole.length - 50}-${whole.length - 1}/${whole.length}`, whole.subarray(-50)]);
    const past = await rig.as('editor').fetch(at('stills/000001.jpg'), { headers: { range: `bytes=${whole.length}-` } });
    expect([past.status, past.headers.get('content-range'), ((await past.json()) as { code: string }).code]).toEqual([416, `bytes */${whole.length}`, 'no-such-bytes']);
  });

  // The examples of RFC 9110, 14.1.2, for a representation of 10,000 bytes.
  it.each([
    ['bytes=0-499', { start: 0, endInclusive: 499 }],
    ['bytes=500-999', { start: 500, endInclusive: 999 }],
    ['bytes=-500', { start: 9500, endInclusive: 9999 }],
    ['bytes=9500-', { start: 9500, endInclusive: 9999 }],
    ['bytes=0-0,-1', null],
    ['bytes=500-99999', { start: 500, endInclusive: 9999 }],
    ['bytes=10000-', 'past-end'],
    ['bytes=5-2', null],
    ['lines=1-2', null],
    [undefined, null],
  ])('are read as the standard says: %s', (header, expected) => expect(rangeOf(header, 10_000)).toEqual(expected));
});

describe('who may only watch offers', () => {
  it('gets the offered stretch on the clip’s own timeline, gaps for the rest, and loses it with the offer', async () => {
    // Frames 60 to 90 at 25: inside the second segment, 2 s to 4 s.
    const id = await offer({ in: 60, outExclusive: 90 });
    const files = await segments('viewer', 'picture.m3u8');
    expect(files).toEqual(await segments('editor', 'picture.m3u8'));
    expect(await Promise.all(files.map((file) => status('viewer', file)))).toEqual([403, 200, 403, 403, 403]);
    const list = (await rig.as('viewer').get(at('picture.m3u8'))).body as string;
    expect(list.match(/#EXT-X-GAP/g)).toHaveLength(4);
    const sound = await segments('viewer', 'sound.m3u8');
    expect((await Promise.all(sound.map((file) => status('viewer', file)))).filter((code) => code === 200).length).toBeLessThan(sound.length);
    // Stills are frames 0, 25, 50, 75 …: the fourth lies in the stretch.
    expect(await Promise.all([3, 4, 5].map((still) => status('viewer', `stills/${String(still).padStart(6, '0')}.jpg`)))).toEqual([403, 200, 403]);
    expect([await status('viewer', 'peaks.json'), await status('viewer', 'traces.json')]).toEqual([403, 403]);
    await rig.db.offer.update({ where: { id }, data: { removedAt: new Date() } });
    expect(await status('viewer', files[1]!)).toBe(404);
  });

  it('is answered by the same rules on paper', () => {
    const list = ['#EXTM3U', '#EXT-X-VERSION:7', '#EXTINF:2.002000,', 'a.m4s', '#EXTINF:2.002000,', 'b.m4s', '#EXT-X-ENDLIST', ''].join('\n');
    const rate = { num: 30000, den: 1001 };
    // Segments of 60 frames: an out at 60 shows nothing of b, one at 61 does.
    expect(segmentIsOffered(list, 'b.m4s', { rate, ranges: [{ in: 0, outExclusive: 60 }] })).toBe(false);
    expect(segmentIsOffered(list, 'b.m4s', { rate, ranges: [{ in: 0, outExclusive: 61 }] })).toBe(true);
    expect(segmentIsOffered(list, 'a.m4s', { rate, ranges: [{ in: 60, outExclusive: 90 }] })).toBe(false);
    expect(segmentIsOffered(list, 'c.m4s', { rate, ranges: [{ in: 0, outExclusive: 120 }] })).toBe(false);
    expect(withGaps(list, { rate, ranges: [{ in: 70, outExclusive: 80 }] }).split('\n').slice(1, 5)).toEqual(['#EXT-X-VERSION:8', '#EXT-X-GAP', '#EXTINF:2.002000,', 'a.m4s']);
    expect(stillIsOffered(3, { rate, ranges: [{ in: 60, outExclusive: 61 }] })).toBe(true);
    expect(stillIsOffered(3, { rate, ranges: [{ in: 61, outExclusive: 90 }] })).toBe(false);
  });
});
