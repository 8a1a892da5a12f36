// The string-out: what is in it, that it plays as one film without a seam, and that one change makes one piece anew.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { shownFrame } from '#core/string-out.ts';
import { makeClip } from '../../server/demo/footage.ts';
import { makeTrack } from '../../server/music/make.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import type { StringOut, StringOutVersion } from '../../server/stringout/contract.ts';
import { makeStringOut } from '../../server/stringout/worker.ts';
import { receive } from '../fixtures/clips.ts';
import { makeSound, sendTrack } from '../fixtures/music.ts';
import { readFrameNumber } from '../fixtures/frame-blocks.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let dir: string;
const clips: Record<'same' | 'fast' | 'silent', string> = { same: '', fast: '', silent: '' };
const slots: string[] = [];
const offers: string[] = [];
const FILM = { num: 24000, den: 1001 };
const RATES = { same: FILM, fast: { num: 50, den: 1 }, silent: { num: 25, den: 1 } };
/** What is offered, in frames of each clip: none of them begins on a segment. */
const CUT = { same: { in: 53, outExclusive: 120 }, fast: { in: 31, outExclusive: 131 }, silent: { in: 10, outExclusive: 40 } };

const state = async (): Promise<StringOut> => (await rig.as('viewer').get(rig.at('/string-out'))).body;
async function made(): Promise<StringOutVersion> {
  await makeStringOut(rig.ground, rig.film, new AbortController().signal);
  return (await state()).playable!;
}
const fetched = async (path: string): Promise<Buffer> => Buffer.from(await (await rig.as('viewer').fetch(rig.at(`/string-out/${path}`))).arrayBuffer());

/** Picture or sound of a version, as ffmpeg decodes what the server gives: one file of all that its playlist names, in order. */
async function downloaded(version: string, of: 'picture' | 'sound'): Promise<string> {
  const list = (await fetched(`${version}/${of}.m3u8`)).toString();
  const init = /#EXT-X-MAP:URI="([^"]+)"/.exec(list)![1]!;
  const parts = [init, ...list.split('\n').filter((line) => line && !line.startsWith('#'))];
  const file = join(dir, `${version}-${of}.mp4`);
  writeFileSync(file, Buffer.concat(await Promise.all(parts.map((part) => fetched(`${version}/${part}`)))));
  return file;
}

beforeAll(async () => {
  rig = await startRig();
  dir = mkdtempSync(join(tmpdir(), 'rushlight-stringout-'));
  await Promise.all(
    (['same', 'fast', 'silent'] as const).map(async (name) => {
      const file = join(dir, `${name}.mov`);
      await makeClip({ name, scene: 'causeway', rate: RATES[name], frames: 140, width: name === 'silent' ? 360 : 640, height: name === 'silent' ? 640 : 360, silent: name === 'silent' }, file, rig.ground.tools);
      const { id } = await receive(rig.ground, rig.film, file);
      await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
      clips[name] = id;
    }),
  );
  const [director, editor] = [rig.as('director'), rig.as('editor')];
  await director.patch(rig.at(''), { targetFrames: 120 });
  const part = (await editor.post(rig.at('/items'), { kind: 'part', name: 'The crossing', place: { parentId: null, afterId: null } })).body;
  for (const name of ['Boots', 'Wheels', 'Gulls', 'The causeway from above']) {
    const slot = (await editor.post(rig.at('/items'), { kind: 'slot', name, mustShow: 'Seen from the side: 100 % mud, “wet”', wish: { kind: 'fixed', frames: 30 }, place: { parentId: part.id, afterId: slots.at(-1) ?? null } })).body;
    slots.push(slot.id);
  }
  for (const [n, name] of (['same', 'fast', 'silent'] as const).entries()) {
    const select = (await editor.post(rig.at('/selects'), { clipId: clips[name], ...CUT[name] })).body;
    offers.push((await editor.post(rig.at('/offers'), { slotId: slots[n], selectId: select.id })).body.id);
  }
  await director.post(rig.at(`/offers/${offers[0]}/verdict`), { verdict: 'approve', decisions: 0 });
});
afterAll(async () => {
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

describe('the string-out', () => {
  it('is made when somebody asks, of picks, offers and cards, in outline order', async () => {
    const before = await state();
    expect(before).toMatchObject({ playable: null, wanted: { ready: 0, total: 4 } });
    expect(await rig.db.$queryRaw`SELECT 1 FROM jobs.job WHERE name = 'string-out' AND data->>'filmId' = ${rig.film}`).toHaveLength(1);
    await state();
    expect(await rig.db.$queryRaw`SELECT 1 FROM jobs.job WHERE name = 'string-out' AND data->>'filmId' = ${rig.film}`).toHaveLength(1);
    const version = await made();
    expect(version.version).toBe(before.wanted.version);
    // 100 frames at 50 are 2 s, which is 48 at 24000/1001; 30 at 25 are 28.77.
    expect(version.stretches.map(({ lineId, take, film, state: is }) => [slots.indexOf(lineId), take?.approved ?? null, is, film.outExclusive - film.in])).toEqual([
      [0, true, 'take', 67],
      [1, false, 'take', 48],
      [2, false, 'take', 29],
      [3, null, 'card', 30],
    ]);
    expect(version.frames).toBe(67 + 48 + 29 + 30);
  });

  it('plays as one film: every frame in its place across all joins, by what is drawn in the picture', async () => {
    const version = await made();
    const file = await downloaded(version.version, 'picture');
    const [width, height] = [320, 180];
    const raw = execFileSync('ffmpeg', ['-v', 'error', '-i', file, '-fps_mode', 'passthrough', '-f', 'rawvideo', '-pix_fmt', 'rgba', '-vf', `scale=${width}:${height}`, '-'], { maxBuffer: 2 ** 30 });
    const size = width * height * 4;
    expect(raw.length / size).toBe(version.frames);
    // The tall one has bars beside it, and its numbers are too small to be read.
    for (const [n, name] of (['same', 'fast'] as const).entries()) {
      const { film, take } = version.stretches[n]!;
      const numbers = Array.from({ length: film.outExclusive - film.in }, (_, k) => readFrameNumber(raw.subarray((film.in + k) * size, (film.in + k + 1) * size), width, height));
      expect(numbers).toEqual(numbers.map((_, k) => shownFrame(k, take!.range, RATES[name], FILM)));
    }
  });

  it('says when each frame is, without a gap, as ffprobe reads it', async () => {
    const { version, frames } = (await state()).playable!;
    const file = await downloaded(version, 'picture');
    const times = execFileSync('ffprobe', ['-v', 'error', '-select_streams', 'v', '-show_entries', 'packet=pts_time', '-of', 'csv=p=0', file]).toString().trim().split(/[\s,]+/).map(Number);
    expect(times).toHaveLength(frames);
    expect(Math.max(...times.map((time, n) => Math.abs(time - (n * FILM.den) / FILM.num)))).toBeLessThan(1e-5);
    const list = (await fetched(`${version}/picture.m3u8`)).toString();
    const total = [...list.matchAll(/#EXTINF:([\d.]+)/g)].reduce((sum, [, seconds]) => sum + Number(seconds), 0);
    expect(total).toBeCloseTo((frames * FILM.den) / FILM.num, 4);
  });

  it('has one first file for all its pieces, so that nothing is begun anew between them', async () => {
    const { version, stretches } = (await state()).playable!;
    const inits = await Promise.all(stretches.map(({ piece }) => fetched(`${version}/pieces/${piece}/0/picture_init.mp4`)));
    for (const init of inits) expect(init.equals(inits[0]!)).toBe(true);
  });

  it('has sound as long as the picture, the pips of a clip where its frames are', async () => {
    const { version, frames, stretches } = (await state()).playable!;
    const file = await downloaded(version, 'sound');
    const raw = execFileSync('ffmpeg', ['-v', 'error', '-i', file, '-f', 'f32le', '-ac', '1', '-'], { maxBuffer: 2 ** 28 });
    const samples = new Float32Array(raw.buffer, raw.byteOffset, raw.length / 4);
    expect(Math.abs(samples.length - (frames * FILM.den * 48_000) / FILM.num)).toBeLessThan(1024);
    // Every clip pips at each full second of its own, 40 ms at 880 Hz; in the stretch of clip frames 53 to 120 at 23.976 that is at 3, 4 and 5 s.
    const { film, take } = stretches[0]!;
    const begins = (film.in * FILM.den) / FILM.num;
    const loud = (from: number) => Math.sqrt(samples.subarray(Math.round(from * 48_000), Math.round((from + 0.03) * 48_000)).reduce((sum, one) => sum + one * one, 0) / 1440);
    for (const second of [3, 4]) {
      const at = begins + second - (take!.range.in * FILM.den) / FILM.num;
      expect([loud(at + 0.005) > 0.1, loud(at - 0.04) < 0.05]).toEqual([true, true]);
    }
  });

  it('makes one piece anew when one slot changes, and plays the former one until then', async () => {
    const before = (await state()).playable!;
    await rig.as('editor').patch(rig.at(`/offers/${offers[1]}`), { in: 40, outExclusive: 80 });
    const meanwhile = await state();
    expect(meanwhile.playable!.version).toBe(before.version);
    expect(meanwhile.wanted).toMatchObject({ ready: 3, total: 4 });
    const after = await made();
    expect(after.stretches.filter(({ piece }, n) => piece !== before.stretches[n]!.piece)).toHaveLength(1);
    expect(after.frames).toBe(before.frames - 48 + 19);
  });

  it('is mixed anew when its levels change, which is undone by what is answered', async () => {
    const before = (await state()).playable!;
    const put = (levels: object) => rig.as('editor').put(rig.at('/string-out/levels'), levels);
    const former = await put({ productionDb: -6, musicDb: -60 });
    expect(former.body).toEqual({ productionDb: 0, musicDb: -9 });
    const quieter = await made();
    expect([quieter.sound === before.sound, quieter.stretches]).toEqual([false, before.stretches]);
    expect((await put(former.body)).body).toEqual({ productionDb: -6, musicDb: -60 });
    expect((await made()).version).toBe(before.version);
    expect((await put({ productionDb: 7, musicDb: 0 })).body.code).toBe('bad-input');
  });

  it('has the locked track beneath from the first frame on, and plays without it, and says so, where it cannot be read', async () => {
    const before = (await state()).playable!;
    const tone = await makeSound(join(dir, 'tone.wav'), 'sine=f=3000:r=48000:d=10');
    await sendTrack(rig, rig.as('editor'), tone);
    const track = await rig.db.track.findFirstOrThrow({ where: { filmId: rig.film } });
    await makeTrack(rig.ground, track.id, { signal: new AbortController().signal, lastTry: true });
    await rig.db.track.update({ where: { id: track.id }, data: { locked: true } });
    const { version, sound, musicFailed } = await made();
    expect([musicFailed, sound === before.sound]).toEqual([false, false]);
    const raw = execFileSync('ffmpeg', ['-v', 'error', '-i', await downloaded(version, 'sound'), '-af', 'bandpass=f=3000:w=200', '-f', 'f32le', '-ac', '1', '-'], { maxBuffer: 2 ** 28 });
    const samples = new Float32Array(raw.buffer, raw.byteOffset, raw.length / 4);
    const level = (from: number) => Math.sqrt(samples.subarray(from, from + 4800).reduce((sum, one) => sum + one * one, 0) / 4800);
    expect(level(4800)).toBeGreaterThan(0.02);
    expect(level(48_000) / level(4800)).toBeCloseTo(1, 1);
    const { version: copy } = await rig.db.track.findUniqueOrThrow({ where: { id: track.id } });
    writeFileSync(rig.ground.storage.path('music', `${track.id}/${copy}/play.m4a`), 'no music');
    await rig.as('editor').put(rig.at('/string-out/levels'), { productionDb: 0, musicDb: -8 });
    expect((await made()).musicFailed).toBe(true);
    await rig.as('editor').post(rig.at('/string-out/retry'));
    await rig.db.track.update({ where: { id: track.id }, data: { locked: false } });
    await rig.as('editor').put(rig.at('/string-out/levels'), { productionDb: 0, musicDb: -9 });
    expect((await made()).version).toBe(before.version);
  });

  it('shows a card where a proxy is not ready or a take is gone', async () => {
    await rig.db.clip.update({ where: { id: clips.silent }, data: { state: 'working' } });
    expect((await made()).stretches[2]).toMatchObject({ state: 'waits', film: { in: 86, outExclusive: 115 } });
    await rig.db.clip.update({ where: { id: clips.silent }, data: { state: 'ready' } });
    await rig.as('editor').del(rig.at(`/offers/${offers[2]}`));
    expect((await made()).stretches[2]).toMatchObject({ state: 'card', take: null });
  });

  it('is not given out beyond what is on offer, nor what it is not made of', async () => {
    const { version, stretches } = (await state()).playable!;
    const piece = stretches[0]!.piece;
    const path = (of: string) => rig.at(`/string-out/${of}`);
    expect((await rig.as('stranger').get(path(`${version}/master.m3u8`))).status).toBe(404);
    expect((await rig.as('viewer').get(path(`${version}/pieces/${'0'.repeat(32)}/0/picture_00000.m4s`))).status).toBe(404);
    expect((await rig.as('viewer').get(path(`${version}/pieces/${piece}/0/..%2Fsound.pcm`))).body.code).toBe('bad-input');
    expect((await rig.as('viewer').get(path(`${'0'.repeat(32)}/master.m3u8`))).status).toBe(404);
    expect((await rig.as('viewer').get(path(`${version}/master.m3u8`))).status).toBe(200);
    await rig.as('editor').del(rig.at(`/offers/${offers[1]}`));
    expect((await rig.as('viewer').get(path(`${version}/master.m3u8`))).status).toBe(404);
    expect((await rig.as('editor').get(path(`${version}/master.m3u8`))).status).toBe(200);
  });
});
