// The sound of a whole string-out: production sound piece by piece, each at the very sample where its picture begins, over
// the locked track.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdir, open, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { FfmpegFailed } from '../platform/ffmpeg.ts';
import type { Ground } from '../platform/http.ts';
import { inputArgs } from '../proxies/index.ts';
import { pieceFolder, SOUND_FILE } from './pieces.ts';
import type { Plan } from './plan.ts';
import { SAMPLE_BYTES, SOUND_RATE, sampleAt } from './samples.ts';

/** So that no join clicks: sound comes in and goes out over this many samples, 2 ms. */
const FADE = 96;
const SEGMENT_SECONDS = 2;
const STDERR_TAIL = 8192;

/** Folder of a sound in the area of string-outs. */
export const soundFolder = (filmId: string, name: string): string => `${filmId}/sound/${name}`;

/** Makes the sound of a plan whose pieces are all there, as HLS. @throws FfmpegFailed, the signal's reason. */
export async function makeSound({ storage, tools }: Ground, filmId: string, plan: Plan, signal: AbortSignal): Promise<void> {
  const attempt = `${filmId}/making/sound-${plan.sound.name}`;
  const dir = storage.path('string-outs', attempt);
  await rm(dir, { recursive: true, force: true });
  await mkdir(dir, { recursive: true });
  try {
    const { levels, track } = plan.sound;
    const args = [
      ...['-hide_banner', '-nostdin', '-y', '-v', 'error', '-f', 's16le', '-ar', String(SOUND_RATE), '-ch_layout', 'stereo', '-i', 'pipe:0'],
      ...(track ? inputArgs(storage.path('music', track.path)) : []),
      ...['-filter_complex', graph(levels, track !== null, sampleAt(plan.frames, plan.rate)), '-map', '[mixed]', '-c:a', 'aac', '-b:a', '160k', '-map_metadata', '-1'],
      ...['-f', 'hls', '-hls_time', String(SEGMENT_SECONDS), '-hls_playlist_type', 'vod', '-hls_segment_type', 'fmp4'],
      ...['-hls_fmp4_init_filename', 'sound_init.mp4', '-hls_segment_filename', join(dir, 'sound_%05d.m4s'), join(dir, 'sound.m3u8')],
    ];
    const child = spawn(tools.ffmpeg, args, { stdio: ['pipe', 'ignore', 'pipe'], signal });
    let said = '';
    child.stderr.on('data', (text: Buffer) => (said = (said + text.toString()).slice(-STDERR_TAIL)));
    // Its end says what went wrong; a closed pipe or an abort is told there as well.
    child.stdin.on('error', () => {});
    const ended = new Promise<{ code: number | null; by: NodeJS.Signals | null }>((done) => child.once('error', () => done({ code: null, by: null })).once('close', (code, by) => done({ code, by })));
    for await (const chunk of production(storage, filmId, plan)) {
      if (child.stdin.destroyed || signal.aborted) break;
      if (!child.stdin.write(chunk)) await Promise.race([once(child.stdin, 'drain').catch(() => {}), ended]);
    }
    child.stdin.end();
    const { code, by } = await ended;
    signal.throwIfAborted();
    if (code !== 0) throw new FfmpegFailed(`${tools.ffmpeg} ${args.join(' ')}`, code, by, said);
    await storage.rename('string-outs', attempt, soundFolder(filmId, plan.sound.name));
  } finally {
    await rm(dir, { recursive: true, force: true });
  }
}

function graph({ productionDb, musicDb }: Plan['sound']['levels'], music: boolean, samples: number): string {
  const shaped = (input: string, db: number) => `[${input}:a:0]aresample=${SOUND_RATE},aformat=sample_fmts=fltp:channel_layouts=stereo,volume=${db <= -60 ? 0 : `${db}dB`}`;
  // The AAC encoder puts 1024 samples before the first; without them the sound begins at 0.
  const out = `alimiter=limit=0.97:level=disabled,atrim=end_sample=${samples},atrim=start_sample=1024[mixed]`;
  return music ? `${shaped('0', productionDb)}[production];${shaped('1', musicDb)},apad[music];[production][music]amix=inputs=2:duration=first:normalize=0,${out}` : `${shaped('0', productionDb)},${out}`;
}

async function* production(storage: Ground['storage'], filmId: string, plan: Plan): AsyncGenerator<Buffer> {
  for (const { piece, film } of plan.stretches) {
    const length = sampleAt(film.outExclusive, plan.rate) - sampleAt(film.in, plan.rate);
    const bytes = Buffer.alloc(length * SAMPLE_BYTES);
    const file = await open(storage.path('string-outs', `${pieceFolder(filmId, piece)}/${SOUND_FILE}`));
    try {
      await file.read(bytes, 0, bytes.length, 0);
    } finally {
      await file.close();
    }
    fade(bytes, length);
    yield bytes;
  }
}

function fade(bytes: Buffer, length: number): void {
  const ramp = Math.min(FADE, Math.floor(length / 2));
  for (let n = 0; n < ramp; n++) {
    for (const sample of [n, length - 1 - n]) {
      for (const channel of [0, 2]) {
        const at = sample * SAMPLE_BYTES + channel;
        bytes.writeInt16LE(Math.round((bytes.readInt16LE(at) * n) / ramp), at);
      }
    }
  }
}
