import { copyFile, mkdtemp, rm, stat, truncate } from 'node:fs/promises';
import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { findTools, runFfmpeg, type Tools } from '../../server/platform/ffmpeg.ts';
import { probe } from '../../server/proxies/probe.ts';
import { checkOriginal, inputArgs } from '../../server/proxies/safety.ts';
import { REFUSALS, writeHostile, type HostileName } from '../fixtures/hostile.ts';

let dir: string;
let tools: Tools;
let canary: string;
let server: Server;
let address: string;
const asked: string[] = [];

const made = (...args: string[]) => runFfmpeg({ program: tools.ffmpeg, args: ['-v', 'error', '-y', ...args] });
const PICTURE = ['-f', 'lavfi', '-i', 'testsrc2=s=320x180:r=25:d=4', '-c:v', 'libx264', '-preset', 'ultrafast', '-g', '25'];

beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'hostile-'));
  tools = await findTools(process.env['FFMPEG_PATH'] ?? null);
  canary = join(dir, 'canary.mp4');
  await made(...PICTURE, canary);
  server = createServer((request, response) => {
    asked.push(request.url ?? '');
    response.writeHead(404).end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  await writeHostile(dir, canary, address);
});
afterAll(async () => {
  await new Promise((resolve) => server.close(resolve));
  await rm(dir, { recursive: true, force: true });
});

const at = (name: HostileName) => join(dir, name);

describe('a file that is not what it should be', () => {
  it.each(Object.entries(REFUSALS))('%s is refused as %s', async (name, refusal) => {
    await expect(checkOriginal(join(dir, name), tools)).rejects.toMatchObject({ name: 'Refusal', code: refusal });
    expect(asked).toEqual([]);
  });
});

// The door is not the only lock: should one of them get in, measuring opens nothing else either.
describe('a file that names another', () => {
  const LISTS = ['playlist-address.mp4', 'playlist-file.mov', 'concat-clip.mp4', 'concat-passwd.mp4', 'session.mp4', 'presentation.mp4', 'script.mp4'] as const;
  it.each(LISTS)('%s is not followed by ffprobe or ffmpeg', async (name) => {
    await expect(probe(at(name), tools)).rejects.toThrow();
    await expect(probe(at(name), { ...tools, ffprobe: null })).rejects.toThrow();
    expect(asked).toEqual([]);
  });

  it('would be followed without the closed lists, so these tests can fail', async () => {
    const lists = (names: string) => ['-safe', '0', '-protocol_whitelist', names, '-f', 'concat'];
    await made(...lists('file'), '-i', at('concat-clip.mp4'), '-c', 'copy', '-f', 'null', '-');
    await expect(made('-protocol_whitelist', 'file,http,tcp', '-f', 'hls', '-i', at('playlist-address.mp4'), '-f', 'null', '-')).rejects.toThrow();
    expect(asked).toContain('/hls.ts');
    asked.length = 0;
  });

  it('a track in another file is read when ffmpeg is told to, and not by us', async () => {
    const path = at('elsewhere.mov');
    const firstFrame = ['-map', '0:v:0', '-c', 'copy', '-frames:v', '1', '-f', 'null', '-'];
    const opened = await runFfmpeg({ program: tools.ffmpeg, args: ['-v', 'debug', '-enable_drefs', '1', '-use_absolute_path', '1', '-i', path, ...firstFrame] });
    expect(opened).toContain(canary);
    const ours = await runFfmpeg({ program: tools.ffmpeg, args: ['-v', 'debug', ...inputArgs(path), ...firstFrame] }).catch((error: { stderrTail: string }) => error.stderrTail);
    expect(ours).not.toContain(`Opening '${canary}'`);
  });
});

describe('a file that is whole', () => {
  const KINDS = ['mp4', 'mov', 'mkv', 'avi', 'mxf', 'ts', 'webm'] as const;
  it.each(KINDS)('in %s is taken', async (kind) => {
    const path = join(dir, `whole.${kind}`);
    const codec = kind === 'mxf' ? ['-c:v', 'mpeg2video'] : kind === 'webm' ? ['-c:v', 'libvpx', '-deadline', 'realtime', '-cpu-used', '8'] : [];
    await made(...PICTURE, ...codec, path);
    await checkOriginal(path, tools);
    expect((await probe(path, tools)).frames).toBe(100);
    expect((await probe(path, { ...tools, ffprobe: null })).frames).toBe(100);
  });

  it('of unknown length, as written live, is taken', async () => {
    const path = join(dir, 'live.mkv');
    await made(...PICTURE, '-live', '1', path);
    await checkOriginal(path, tools);
  });

  it.each(['mp4', 'mov', 'mkv', 'avi'])('and cut in %s is refused', async (kind) => {
    const path = join(dir, `cut.${kind}`);
    await made(...PICTURE, path);
    await truncate(path, Math.floor((await stat(path)).size * 0.7));
    await expect(checkOriginal(path, tools)).rejects.toMatchObject({ code: 'cut-short' });
  });

  it('and cut in a container that does not say its length in bytes is found out when it is measured', async () => {
    const path = join(dir, 'cut.mxf');
    await made(...PICTURE, '-c:v', 'mpeg2video', path);
    await truncate(path, Math.floor((await stat(path)).size * 0.5));
    await expect(probe(path, tools)).rejects.toMatchObject({ code: 'cut-short' });
  });

  it('holding sound alone is no video', async () => {
    const path = join(dir, 'sound.mp4');
    await made('-f', 'lavfi', '-i', 'sine=d=1', path);
    await expect(checkOriginal(path, tools)).rejects.toMatchObject({ code: 'not-a-video' });
  });

  it('holding sound and a cover image is no video', async () => {
    const cover = join(dir, 'cover.png');
    const path = join(dir, 'cover.mp4');
    await made('-f', 'lavfi', '-i', 'color=s=64x64', '-frames:v', '1', cover);
    await made('-f', 'lavfi', '-i', 'sine=d=1', '-i', cover, '-map', '0', '-map', '1', '-c:v', 'copy', '-disposition:v:0', 'attached_pic', path);
    await expect(checkOriginal(path, tools)).rejects.toMatchObject({ code: 'not-a-video' });
  });

  it('may have any name, even one that looks like an address or an option', async () => {
    const path = join(dir, '-i http:%d\'"; x.mp4');
    await copyFile(canary, path);
    await checkOriginal(path, tools);
  });
});
