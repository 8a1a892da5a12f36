// Proxies judged from outside: by ffprobe, by hls-parser in its strict mode (RFC 8216), and by the frame numbers that
// generated footage carries in its picture.
import { execFile } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import HLS from 'hls-parser';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { faultsOf } from '#core/faults.ts';
import { nominal } from '#core/rate.ts';
import type { Traces } from '#core/traces.ts';
import { FfmpegFailed, findTools, type Tools } from '../../server/platform/ffmpeg.ts';
import { TRACES_FILE } from '../../server/proxies/analysis/index.ts';
import { checkProxy } from '../../server/proxies/check.ts';
import { encodeProxy, type EncodeProgress } from '../../server/proxies/encode.ts';
import type { Peaks } from '../../server/proxies/peaks.ts';
import { probe, type Probe } from '../../server/proxies/probe.ts';
import { readFrameNumber } from '../fixtures/frame-blocks.ts';
import { CLIPS, makeClip, phoneKeeps, type ClipName, type ClipSpec } from '../fixtures/footage.ts';

const run = promisify(execFile);
const NAMES = Object.keys(CLIPS) as ClipName[];
let dir: string;
let tools: Tools;
HLS.setOptions({ strictMode: true });

beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'encode-'));
  tools = await findTools(process.env['FFMPEG_PATH'] ?? null);
});
afterAll(() => rm(dir, { recursive: true, force: true }));

const ffmpeg = (...args: string[]) => run(tools.ffmpeg, ['-v', 'error', '-y', ...args]);
const media = async (path: string) => HLS.parse(await readFile(path, 'utf8')) as HLS.types.MediaPlaylist;

/** The frame numbers in a picture, in order; null where none can be read. */
async function numbersIn(input: string[], width: number, height: number): Promise<(number | null)[]> {
  const args = ['-v', 'error', ...input, '-vf', `scale=${width}:${height}`, '-fps_mode', 'passthrough', '-f', 'rawvideo', '-pix_fmt', 'rgba', '-'];
  const { stdout } = await run(tools.ffmpeg, args, { encoding: 'buffer', maxBuffer: 1 << 30 });
  const size = width * height * 4;
  return Array.from({ length: stdout.length / size }, (_, n) => readFrameNumber(stdout.subarray(n * size, (n + 1) * size), width, height));
}

/** The source frame that proxy frame n shows: the last one whose nearest place on the steady clock is not after n. */
function shown(spec: ClipSpec, frames: number): number[] {
  let last = 0;
  return Array.from({ length: frames }, (_, n) => (last = !spec.phoneRate || phoneKeeps(n) ? n : last));
}

describe.each(NAMES)('the proxy of %s', (name) => {
  const spec: ClipSpec = CLIPS[name];
  const lists = spec.silent ? ['picture'] : ['picture', 'sound'];
  const upright = (spec.height ?? 720) > (spec.width ?? 1280);
  const reports: EncodeProgress[] = [];
  let out: string;
  let measured: Probe;
  let made: { frames: number };

  beforeAll(async () => {
    const source = join(dir, name);
    out = join(dir, `${name}.proxy`);
    await makeClip(spec, source, tools);
    measured = await probe(source, tools);
    made = await encodeProxy({ source, probe: measured, outDir: out, tools, onProgress: (report) => reports.push(report) });
  });

  it('has the frames of the clip, each showing what it should', async () => {
    expect(made.frames).toBe(measured.frames);
    const [width, height] = upright ? [360, 640] : [640, 360];
    expect(await numbersIn(['-i', join(out, 'picture.m3u8')], width, height)).toEqual(shown(spec, measured.frames));
  });

  it('begins at zero, in picture and sound', async () => {
    for (const list of lists) {
      const { stdout } = await run(tools.ffprobe!, ['-v', 'error', '-show_entries', 'packet=pts', '-read_intervals', '%+#1', '-of', 'default=nk=1:nw=1', join(out, `${list}.m3u8`)]);
      expect([list, stdout.trim()]).toEqual([list, '0']);
    }
  });

  it('has lists that a strict reader accepts, closed and as long as the frames', async () => {
    const master = HLS.parse(await readFile(join(out, 'master.m3u8'), 'utf8')) as HLS.types.MasterPlaylist;
    expect(master.variants.map(({ uri, resolution }) => [uri, resolution])).toEqual([['picture.m3u8', upright ? { width: 540, height: 960 } : { width: 960, height: 540 }]]);
    expect(master.variants.flatMap(({ audio }) => audio.map(({ uri }) => uri))).toEqual(spec.silent ? [] : ['sound.m3u8']);
    for (const list of lists) expect((await media(join(out, `${list}.m3u8`))).endlist).toBe(true);
    const { segments } = await media(join(out, 'picture.m3u8'));
    const seconds = segments.reduce((sum, { duration }) => sum + duration, 0);
    // RFC 8216 has decimal lengths; ffmpeg writes microseconds, so half of one may be lost a segment.
    expect(Math.abs(seconds - (made.frames * spec.rate.den) / spec.rate.num)).toBeLessThanOrEqual(5e-7 * segments.length);
    expect(segments.map(({ map }) => map?.uri)).toEqual(segments.map(() => 'picture_init.mp4'));
  });

  it('has a key frame each second and no frame that looks ahead', async () => {
    const args = ['-v', 'error', '-show_entries', 'packet=pts,dts,flags', '-of', 'csv=p=0', join(out, 'picture.m3u8')];
    const packets = (await run(tools.ffprobe!, args)).stdout.trim().split('\n').map((line) => line.split(','));
    expect(packets.filter(([pts, dts]) => pts !== dts)).toEqual([]);
    const keys = packets.flatMap(([, , flags], n) => (flags?.startsWith('K') ? [n] : []));
    expect(keys).toEqual(Array.from({ length: Math.ceil(made.frames / nominal(spec.rate)) }, (_, k) => k * nominal(spec.rate)));
  });

  it('has a still of the first frame of each second', async () => {
    const group = nominal(spec.rate);
    const stills = (await readdir(join(out, 'stills'))).sort();
    expect(stills).toEqual(Array.from({ length: Math.ceil(made.frames / group) }, (_, k) => `${String(k + 1).padStart(6, '0')}.jpg`));
    // In upright stills the blocks are three pixels wide, too narrow to read.
    if (upright) return;
    const expected = shown(spec, made.frames).filter((_, n) => n % group === 0);
    expect(await numbersIn(['-i', join(out, 'stills/%06d.jpg')], 320, 180)).toEqual(expected);
  });

  it('has the peaks of the sound, with its pip at each full second', async () => {
    if (spec.silent) return expect(await readdir(out)).not.toContain('peaks.json');
    const { perSecond, low, high } = JSON.parse(await readFile(join(out, 'peaks.json'), 'utf8')) as Peaks;
    expect([perSecond, low.length]).toEqual([100, high.length]);
    const loud = (from: number, to: number) => Math.max(...high.slice(from, to)) - Math.min(...low.slice(from, to));
    for (let second = 1; second < 5; second++) expect(loud(second * 100, second * 100 + 4)).toBeGreaterThan(1.5 * loud(second * 100 - 20, second * 100 - 2));
  });

  it('has traces of every frame, which find nothing wrong', async () => {
    const traces = JSON.parse(await readFile(join(out, TRACES_FILE), 'utf8')) as Traces;
    expect([traces.frames, traces.sound === null]).toEqual([made.frames, spec.silent ?? false]);
    expect([faultsOf(traces, measured.rate), traces.cuts]).toEqual([[], []]);
  });

  it('told how far it was, never backwards', () => {
    expect(reports.length).toBeGreaterThan(0);
    expect(reports.map(({ frames }) => frames)).toEqual(reports.map(({ frames }) => frames).sort((a, b) => a - b));
    for (const { fraction } of reports) expect(fraction).toBeLessThanOrEqual(1);
  });
});

describe('picture and sound', () => {
  const FRAME = 1 / 25;
  /** A clip that turns white and loud at the same moment, one of the two beginning late, and where its proxy does so. */
  async function flashAndBeep(file: string, late: { picture?: number; sound?: number }): Promise<{ flash: number; beep: number }> {
    const { picture = 0, sound = 0 } = late;
    const at = 1.2;
    const source = join(dir, file);
    const graph = [
      `color=black:s=320x180:r=25:d=${3 - picture},drawbox=c=white:t=fill:enable='gte(t,${at - picture - FRAME / 2})',setpts=PTS+${picture}/TB[v]`,
      `aevalsrc='0.5*sin(2*PI*1000*t)*gte(t,${at - sound})':s=48000:d=${3 - sound},asetpts=PTS+${sound}/TB[a]`,
    ].join(';');
    await ffmpeg('-filter_complex', graph, '-map', '[v]', '-map', '[a]', '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'pcm_s16le', '-fps_mode', 'passthrough', source);
    const out = `${source}.proxy`;
    await encodeProxy({ source, probe: await probe(source, tools), outDir: out, tools });
    const decode = async (list: string, ...args: string[]) =>
      (await run(tools.ffmpeg, ['-v', 'error', '-i', join(out, list), ...args, '-'], { encoding: 'buffer', maxBuffer: 1 << 28 })).stdout;
    const grey = await decode('picture.m3u8', '-vf', 'scale=1:1', '-f', 'rawvideo', '-pix_fmt', 'gray');
    const bytes = await decode('sound.m3u8', '-f', 's16le', '-ac', '1', '-ar', '48000');
    const samples = new Int16Array(bytes.buffer, bytes.byteOffset, bytes.length / 2);
    return { flash: grey.findIndex((value) => value > 128) * FRAME, beep: samples.findIndex((value) => Math.abs(value) > 4000) / 48_000 };
  }

  it.each([
    ['together.mov', {}, 1.2], ['together.mkv', {}, 1.2],
    ['late-picture.mov', { picture: 0.48 }, 0.72], ['late-picture.mkv', { picture: 0.48 }, 0.72],
    ['late-sound.mov', { sound: 0.35 }, 1.2], ['late-sound.mkv', { sound: 0.35 }, 1.2],
  ])('stay together in %s', async (file, late, expected) => {
    const { flash, beep } = await flashAndBeep(file, late);
    expect(flash).toBeCloseTo(expected, 6);
    expect(Math.abs(beep - flash)).toBeLessThanOrEqual(0.005);
  });
});

describe('an encode that does not come to its end', () => {
  let source: string;
  let measured: Probe;
  let leaver: Tools;
  beforeAll(async () => {
    source = join(dir, 'minute.mp4');
    await ffmpeg('-f', 'lavfi', '-i', 'testsrc2=s=640x360:r=25:d=60', '-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p', source);
    measured = await probe(source, tools);
    // Leaves its process id behind, so that the test can do to it what a machine does.
    const script = join(dir, 'leaver.sh');
    await writeFile(script, `#!/bin/sh\necho $$ > '${dir}/pid'\nexec '${tools.ffmpeg}' "$@"\n`, { mode: 0o755 });
    leaver = { ...tools, ffmpeg: script };
  });

  const killedBy = (signal: NodeJS.Signals, outDir: string) => {
    let killed = false;
    return encodeProxy({
      source,
      probe: measured,
      outDir,
      tools: leaver,
      onPlayable: () => {
        killed = process.kill(Number(readFileSync(join(dir, 'pid'), 'utf8')), signal);
      },
    }).finally(() => expect(killed).toBe(true));
  };

  it('is playable while it is being made, and not closed', async () => {
    const seen: string[] = [];
    const outDir = join(dir, 'growing');
    await encodeProxy({ source, probe: measured, outDir, tools, onPlayable: () => seen.push(readFileSync(join(outDir, 'picture.m3u8'), 'utf8')) });
    expect(seen).toHaveLength(1);
    expect(seen[0]).not.toContain('#EXT-X-ENDLIST');
    expect((HLS.parse(seen[0]!) as HLS.types.MediaPlaylist).playlistType).toBe('EVENT');
  });

  it('is never called whole when terminated, though ffmpeg closes its list', async () => {
    const out = join(dir, 'terminated');
    await expect(killedBy('SIGTERM', out)).rejects.toMatchObject({ name: 'FfmpegFailed', exitCode: 255 });
    expect(await readFile(join(out, 'picture.m3u8'), 'utf8')).toContain('#EXT-X-ENDLIST');
    const frames = 50 * (await media(join(out, 'picture.m3u8'))).segments.length;
    await expect(checkProxy(out, { rate: measured.rate, frames, expected: measured.frames, sound: false })).rejects.toMatchObject({ code: 'proxy-unsound' });
  });

  it('is never called whole when killed', async () => {
    await expect(killedBy('SIGKILL', join(dir, 'killed'))).rejects.toMatchObject({ name: 'FfmpegFailed', killedBy: 'SIGKILL' });
  });

  it('ends with the reason it was stopped for', async () => {
    const stopping = new AbortController();
    const why = new Error('the worker is stopping');
    const encode = encodeProxy({ source, probe: measured, outDir: join(dir, 'stopped'), tools, signal: stopping.signal, onPlayable: () => stopping.abort(why) });
    await expect(encode).rejects.toBe(why);
  });

  it('fails with the words of ffmpeg when the file is gone', async () => {
    const error: unknown = await encodeProxy({ source: join(dir, 'gone.mp4'), probe: measured, outDir: join(dir, 'gone'), tools }).catch((thrown: unknown) => thrown);
    expect(error).toBeInstanceOf(FfmpegFailed);
    expect((error as FfmpegFailed).stderrTail).toContain('No such file');
    expect((error as FfmpegFailed).command).toContain('gone.mp4');
  });

  it('is not called whole when the second half of the picture cannot be read', async () => {
    const damaged = join(dir, 'damaged.mp4');
    const bytes = await readFile(source);
    const index = bytes.lastIndexOf('moov');
    bytes.fill(0, Math.floor(index / 2), index - 4);
    await writeFile(damaged, bytes);
    await expect(encodeProxy({ source: damaged, probe: measured, outDir: join(dir, 'damaged'), tools })).rejects.toThrow();
  });
});

describe('the check of a proxy', () => {
  let out: string;
  let measured: Probe;
  const check = (frames = measured.frames) => checkProxy(out, { rate: measured.rate, frames, expected: frames, sound: true });
  beforeAll(async () => {
    const source = join(dir, 'short.mov');
    out = join(dir, 'short.proxy');
    await makeClip({ name: 'SHORT', scene: 'ferry', rate: { num: 25, den: 1 }, frames: 75 }, source, tools);
    measured = await probe(source, tools);
    await encodeProxy({ source, probe: measured, outDir: out, tools });
  });

  /** Damages a file, checks, and mends it. */
  async function damaged(file: string, change: (bytes: Buffer) => Buffer): Promise<unknown> {
    const path = join(out, file);
    const whole = await readFile(path);
    await writeFile(path, change(whole));
    try {
      return await check().catch((error: unknown) => error);
    } finally {
      await writeFile(path, whole);
    }
  }
  const without = (text: string) => (bytes: Buffer) => Buffer.from(bytes.toString().replace(text, ''));

  it('passes what is whole', () => check());
  it('notices a list that is not closed', async () => {
    for (const list of ['picture.m3u8', 'sound.m3u8']) expect(await damaged(list, without('#EXT-X-ENDLIST'))).toMatchObject({ code: 'proxy-unsound' });
  });
  it('notices a segment that is not listed', async () => {
    expect(await damaged('picture.m3u8', without('#EXTINF:2.000000,\npicture_00000.m4s\n'))).toMatchObject({ code: 'proxy-unsound' });
  });
  it('notices a frame too few', () => expect(check(measured.frames - 1)).rejects.toMatchObject({ code: 'proxy-unsound' }));
  it('notices sound or picture that does not begin at zero', async () => {
    const later = (bytes: Buffer) => {
      const moved = Buffer.from(bytes);
      const at = moved.indexOf('tfdt');
      moved.writeUInt32BE(7, at + (moved[at + 4] === 1 ? 12 : 8));
      return moved;
    };
    for (const list of ['picture_00000.m4s', 'sound_00000.m4s']) expect(await damaged(list, later)).toMatchObject({ code: 'proxy-unsound' });
  });
});
