// Real files of every kind that is taken, through the real ffmpeg, to what plays and is drawn.
import { execFile } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTrackWorker } from '../../server/music/index.ts';
import { WAVE_FACTOR, WAVE_LEVELS, WAVE_RATE, type Mark } from '../../server/music/contract.ts';
import { eventually } from '../fixtures/eventually.ts';
import { makeSound, sendTrack } from '../fixtures/music.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';

let rig: Rig;
let dir: string;
let worker: Awaited<ReturnType<typeof startTrackWorker>>;
beforeAll(async () => {
  rig = await startRig();
  dir = mkdtempSync(join(tmpdir(), 'rushlight-music-'));
  worker = await startTrackWorker(rig.ground);
});
afterAll(async () => {
  await worker.stop();
  await rig.close();
  await rm(dir, { recursive: true, force: true });
});

const send = (file: string, words?: Record<string, string>) => sendTrack(rig, rig.as('field'), file, words);
/** Read to its end: a server does not close while somebody still downloads. */
async function media(id: string, version: string, file: string, headers: Record<string, string> = {}): Promise<Response> {
  const { status, headers: said, body } = await rig.as('editor').fetch(rig.at(`/tracks/${id}/media/${version}/${file}`), { headers });
  return new Response(body && (await new Response(body).arrayBuffer()), { status, headers: said });
}
const ended = (id: string) =>
  eventually(async () => {
    const track = await rig.db.track.findUniqueOrThrow({ where: { id } });
    expect(['ready', 'failed']).toContain(track.state);
    return track;
  });
const bytesOf = async (answer: Response) => Buffer.from(await answer.arrayBuffer());

/** 4 s: a click at 1 s and one at 3 s in silence, told apart by nothing else. */
const CLICKS = "aevalsrc='0.9*(eq(n,48000)+eq(n,144000))':s=48000:d=4";

describe('every kind that is taken', () => {
  it.each([
    ['wav', []],
    ['flac', []],
    ['mp3', ['-c:a', 'libmp3lame', '-b:a', '192k']],
    ['m4a', ['-c:a', 'aac', '-b:a', '192k']],
    ['aac', ['-c:a', 'aac', '-b:a', '192k']],
    ['ogg', ['-c:a', 'libvorbis', '-q:a', '6']],
    ['opus', ['-c:a', 'libopus', '-b:a', '128k']],
  ])('%s becomes a track with copy and wave, as long as it is', async (ending, how) => {
    const file = await makeSound(join(dir, `Tide table.${ending}`), 'sine=frequency=440:sample_rate=44100:duration=4', '-ac', '2', ...how);
    const sent = await send(file, { maker: 'Anneke', rights: 'kept' });
    expect([sent.status, sent.body]).toMatchObject([201, { title: 'Tide table', maker: 'Anneke', rights: 'kept', state: 'received', xxh64: await xxhash64(await readFile(file)) }]);
    const track = await ended(sent.body.id);
    expect(track.failure).toBeNull();
    // AAC comes in blocks of 1024 samples (23 ms): the last is decoded whole, and ADTS does not say what the encoder put before the first.
    expect(Math.abs(track.lengthMs! - 4000)).toBeLessThanOrEqual({ aac: 70, m4a: 24 }[ending] ?? 1);
    const copy = await media(track.id, track.version!, 'play.m4a');
    expect([copy.status, copy.headers.get('content-type')]).toEqual([200, 'audio/mp4']);
    expect(track.originalPath).toMatch(/\/music\/Tide table~[0-9a-f]{8}\.\w+$/);
  });
});

describe('the wave', () => {
  it('is the sound: each level holds lowest and highest of what lies below, and samples lie where they are', async () => {
    const { body } = await send(await makeSound(join(dir, 'clicks.wav'), CLICKS));
    const { version, lengthMs } = await ended(body.id);
    expect(lengthMs).toBe(4000);
    const level0 = await bytesOf(await media(body.id, version!, 'wave-0.bin'));
    expect(level0.byteLength).toBe(4 * WAVE_RATE * 2);
    const loud = Array.from({ length: level0.byteLength / 2 }, (_, n) => level0.readInt16LE(n * 2)).flatMap((value, n) => (Math.abs(value) > 16_000 ? [n] : []));
    expect(loud).toEqual([48_000, 144_000]);
    let below = Array.from({ length: level0.byteLength / 2 }, (_, n) => [level0.readInt16LE(n * 2), level0.readInt16LE(n * 2)]);
    for (let level = 1; level < WAVE_LEVELS; level++) {
      const points = Array.from({ length: Math.ceil(below.length / WAVE_FACTOR) }, (_, n) => below.slice(n * WAVE_FACTOR, (n + 1) * WAVE_FACTOR));
      below = points.map((some) => [Math.min(...some.map(([low]) => low!)), Math.max(...some.map(([, high]) => high!))]);
      const bytes = await bytesOf(await media(body.id, version!, `wave-${level}.bin`));
      expect([level, Array.from({ length: bytes.byteLength / 4 }, (_, n) => [bytes.readInt16LE(n * 4), bytes.readInt16LE(n * 4 + 2)])]).toEqual([level, below]);
    }
  });

  it('is given by range, to who may, and only what it is made of', async () => {
    const { body } = await send(await makeSound(join(dir, 'tone.flac'), 'sine=d=2'));
    const { version } = await ended(body.id);
    const part = await media(body.id, version!, 'wave-1.bin', { range: 'bytes=400-799' });
    expect([part.status, part.headers.get('content-range'), (await bytesOf(part)).byteLength]).toEqual([206, 'bytes 400-799/48000', 400]);
    expect((await media(body.id, version!, 'wave-6.bin')).status).toBe(404);
    expect((await media(body.id, version!, 'heard.wav')).status).toBe(404);
    expect((await rig.as('viewer').fetch(rig.at(`/tracks/${body.id}/media/${version}/play.m4a`))).status).toBe(403);
  });
});

describe('the copy that plays', () => {
  it.each([
    ['wav', []],
    ['mp3', ['-c:a', 'libmp3lame', '-b:a', '256k']],
    ['opus', ['-c:a', 'libopus', '-b:a', '160k']],
  ])('of %s has every moment where the wave has it', async (ending, how) => {
    const { body } = await send(await makeSound(join(dir, `copy.${ending}`), CLICKS, '-metadata', 'comment=another file', ...how));
    const { version } = await ended(body.id);
    const loudest = (bytes: Buffer, from: number, to: number) => {
      let at = from;
      for (let n = from; n < to; n++) if (Math.abs(bytes.readInt16LE(n * 2)) > Math.abs(bytes.readInt16LE(at * 2))) at = n;
      return at;
    };
    const file = join(dir, `copy-of-${ending}.m4a`);
    await writeFile(file, await bytesOf(await media(body.id, version!, 'play.m4a')));
    const { stdout } = await promisify(execFile)('ffmpeg', ['-v', 'error', '-i', file, '-ac', '1', '-f', 's16le', 'pipe:1'], { encoding: 'buffer', maxBuffer: 10_000_000 });
    const wave = await bytesOf(await media(body.id, version!, 'wave-0.bin'));
    for (const [from, to] of [[0, 96_000], [96_000, 180_000]] as const) {
      expect(Math.abs(loudest(wave, from, to) - (from === 0 ? 48_000 : 144_000))).toBeLessThanOrEqual(48);
      // A millisecond at 48 kHz.
      expect(Math.abs(loudest(stdout, from, to) - loudest(wave, from, to))).toBeLessThanOrEqual(48);
    }
  });
});

describe('loudness', () => {
  // EBU Tech 3341 (2016), table 1, cases 1 and 2: stereo sine of 1000 Hz at -23.0 and -33.0 dBFS for 20 s read -23.0 and
  // -33.0 LUFS, within 0.1.
  it.each([[-23], [-33]])('of a sine at %d dBFS is what EBU Tech 3341 says', async (level) => {
    const { body } = await send(await makeSound(join(dir, `sine${level}.wav`), `aevalsrc='pow(10,${level}/20)*sin(2*PI*1000*t)|pow(10,${level}/20)*sin(2*PI*1000*t)':s=48000:d=20`, '-c:a', 'pcm_s24le'));
    const track = await ended(body.id);
    expect(Math.abs(track.integratedLufs! - level)).toBeLessThanOrEqual(0.1);
    // Its peak lies on its samples within 0.2 dB, because 48 of them make a period.
    expect(Math.abs(track.truePeakDbtp! - level)).toBeLessThanOrEqual(0.2);
  });

  it('of silence is none, and the silences are named', async () => {
    const silent = await ended((await send(await makeSound(join(dir, 'silent.wav'), 'anullsrc=r=48000:cl=stereo:d=3'))).body.id);
    expect([silent.integratedLufs, (silent.analysis as any).silences]).toEqual([null, [{ fromMs: 0, toMs: 3000 }]]);
    const broken = await ended((await send(await makeSound(join(dir, 'break.wav'), "aevalsrc='0.3*sin(2*PI*440*t)*(lt(t,2)+gt(t,4))':s=48000:d=6"))).body.id);
    const [{ fromMs, toMs }] = (broken.analysis as any).silences;
    expect([Math.abs(fromMs - 2000) < 20, Math.abs(toMs - 4000) < 20]).toEqual([true, true]);
  });
});

describe('what is no music', () => {
  it.each([
    ['words', Buffer.from('no music'.repeat(200)), 'not-music', 415],
    ['nothing', Buffer.alloc(0), 'empty-file', 400],
    ['a playlist', Buffer.from('#EXTM3U\nfile:///etc/passwd\n'.padEnd(600)), 'refused-format', 415],
    ['a list of files', Buffer.from("ffconcat version 1.0\nfile '/etc/passwd'\n".padEnd(600)), 'refused-format', 415],
    ['a header and rubbish', Buffer.concat([Buffer.from('RIFF\xff\xff\xff\x7fWAVEfmt ', 'latin1'), Buffer.alloc(2000, 7)]), 'not-music', 415],
  ])('%s is refused in words, and nothing is kept', async (name, bytes, code, status) => {
    const file = join(dir, `${name.replaceAll(' ', '-')}.mp3`);
    await writeFile(file, bytes);
    const before = await rig.db.track.count();
    const { status: got, body } = await send(file);
    expect([got, body.code]).toEqual([status, code]);
    expect([await rig.db.track.count(), (await rig.ground.storage.list('music', '')).filter((folder) => folder.startsWith('arriving-'))]).toEqual([before, []]);
  });

  it('a clip without sound, and one whose picture would have to be decoded, are not taken for music', async () => {
    const file = join(dir, 'clip.m4a');
    await writeFile(file, await smallClip());
    expect((await send(file)).body.code).toBe('not-music');
  });

  it('what arrived otherwise than it was sent, and what is here already, are refused', async () => {
    const file = await makeSound(join(dir, 'twice.wav'), 'sine=f=330:d=1');
    expect((await send(file, { xxh64: '0123456789abcdef' })).body.code).toBe('wrong-checksum');
    expect((await send(file, { rights: 'perhaps' })).body).toMatchObject({ code: 'bad-input', fields: [{ field: 'rights' }] });
    const first = await send(file, { xxh64: await xxhash64(await readFile(file)) });
    expect(first.status).toBe(201);
    expect((await send(file)).body).toMatchObject({ code: 'same-file', trackId: first.body.id });
  });
});

describe('work on a track', () => {
  it('that fails says why, and can be tried again when the file is back', async () => {
    const { body } = await send(await makeSound(join(dir, 'lost.wav'), 'sine=f=220:d=2'));
    const { originalPath } = await ended(body.id);
    const path = rig.ground.storage.path('originals', originalPath);
    const bytes = await readFile(path);
    await rm(path);
    // Asking for it anew is allowed of a ready one too: a later analysis may hear more.
    expect((await rig.as('editor').post(rig.at(`/tracks/${body.id}/retry`))).status).toBe(200);
    const failed = await ended(body.id);
    expect([failed.state, failed.failure]).toMatchObject(['failed', { code: 'original-missing', mayRetry: true }]);
    await writeFile(path, bytes);
    expect((await rig.as('field').post(rig.at(`/tracks/${body.id}/retry`))).status).toBe(403);
    await rig.as('assistant').post(rig.at(`/tracks/${body.id}/retry`));
    expect(await ended(body.id)).toMatchObject({ state: 'ready', failure: null });
  });

  it('leaves what people marked as it is when it is done again', async () => {
    const { body } = await send(await makeSound(join(dir, 'again.wav'), 'sine=f=250:d=2'));
    await ended(body.id);
    const made = await rig.as('editor').post(rig.at(`/tracks/${body.id}/marks`), { add: [{ kind: 'named', atMs: 700, name: 'gulls' }] });
    await rig.as('editor').post(rig.at(`/tracks/${body.id}/retry`));
    await ended(body.id);
    const { marks } = (await rig.as('editor').get(rig.at('/state'))).body.rows as { marks: Mark[] };
    expect(marks.filter(({ byId }) => byId !== null)).toEqual(made.body.added);
  });

  it('a file that was moved in by a server that died before it wrote the row is taken away at the next start', async () => {
    const { storage } = rig.ground;
    await makeSound(join(dir, 'orphan.wav'), 'sine=d=1');
    await storage.moveIn(join(dir, 'orphan.wav'), 'originals', 'film/music/orphan~00000000.wav');
    await storage.moveIn(await makeSound(join(dir, 'rest.wav'), 'sine=d=1'), 'music', 'arriving-dead/file');
    await writeFile(storage.path('music', 'arriving-dead/move.json'), JSON.stringify({ path: 'film/music/orphan~00000000.wav' }));
    await worker.stop();
    worker = await startTrackWorker(rig.ground);
    expect([await storage.list('music', 'arriving-dead'), await storage.list('originals', 'film/music')]).toEqual([[], []]);
  });
});
