// One piece of a string-out: picture as HLS that begins at 0, and sound as it is.
import { mkdir, readFile, rm, stat, writeFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import { join } from 'node:path';
import { segmentCount, segmentOfFrame, segmentRange, segmentSeconds } from '#core/hls-time.ts';
import { nominal } from '#core/rate.ts';
import { runFfmpeg } from '../platform/ffmpeg.ts';
import type { Ground } from '../platform/http.ts';
import { firstDecodeTime } from '../proxies/index.ts';
import type { Content, Piece } from './plan.ts';
import { SAMPLE_BYTES, SOUND_RATE, samplesOf } from './samples.ts';

/** All pieces are of one size, with bars where a clip has another shape: only so they follow one another as one film. */
export const CANVAS = { width: 960, height: 540 } as const;
const FONT = fileURLToPath(import.meta.resolve('@fontsource/courier-prime/files/courier-prime-latin-700-normal.woff'));

export const PICTURE_LIST = 'picture.m3u8';
export const SOUND_FILE = 'sound.pcm';
export const pictureFile = (n: number): string => `picture_${String(n).padStart(5, '0')}.m4s`;
export const PICTURE_INIT = 'picture_init.mp4';

/** Folder of a piece in the area of string-outs. */
export const pieceFolder = (filmId: string, name: string): string => `${filmId}/pieces/${name}`;

/** Whether a piece is there whole: it gets its name when it is. */
export const isThere = (ground: Ground, filmId: string, name: string): Promise<boolean> => stat(ground.storage.path('string-outs', pieceFolder(filmId, name))).then(() => true, () => false);

/** A piece that ffmpeg calls finished and that is not what was asked for. */
export class PieceUnsound extends Error {
  override readonly name = 'PieceUnsound';
}

/**
 * Makes a piece: whoever looks sees all of it or nothing.
 * @throws FfmpegFailed; PieceUnsound where what was made is not as long as it should be; the signal's reason.
 */
export async function makePiece({ storage, tools }: Ground, filmId: string, piece: Piece, signal: AbortSignal): Promise<void> {
  const attempt = `${filmId}/making/${piece.name}`;
  const dir = storage.path('string-outs', attempt);
  await rm(dir, { recursive: true, force: true });
  await mkdir(dir, { recursive: true });
  try {
    const source = piece.content.kind === 'take' ? await takeSource(storage, piece, piece.content) : await cardSource(piece, piece.content, dir);
    await runFfmpeg({ program: tools.ffmpeg, signal, args: [...['-hide_banner', '-nostdin', '-y', '-v', 'error'], ...source, ...outputs(piece, dir)] });
    await check(piece, dir);
    await rm(join(dir, 'words.txt'), { force: true });
    await storage.rename('string-outs', attempt, pieceFolder(filmId, piece.name));
  } finally {
    await rm(dir, { recursive: true, force: true });
  }
}

/** Frames of the clip that the piece is made of, from the segments of its proxy that hold them. */
async function takeSource(storage: Ground['storage'], { rate, frames }: Piece, content: Extract<Content, { kind: 'take' }>): Promise<string[]> {
  const { clipId, proxyVersion, range, clipRate, clipFrames, sound } = content;
  const proxy = (file: string): string => storage.path('proxies', `${clipId}/${proxyVersion}/${file}`);
  const [from, to] = [segmentOfFrame(range.in, clipRate), segmentOfFrame(range.outExclusive - 1, clipRate)];
  const first = segmentRange(from, clipRate, clipFrames).in;
  const joined = (init: string, files: readonly string[]): string => `concat:${[init, ...files].map(proxy).join('|')}`;
  const pictures = Array.from({ length: to - from + 1 }, (_, n) => pictureFile(from + n));
  const film = `${rate.num}/${rate.den}`;
  const picture = [
    `[0:v:0]trim=start_frame=${range.in - first}:end_frame=${range.outExclusive - first},settb=1/${clipRate.num},setpts=N*${clipRate.den}`,
    // Frame k of the film shows what core/string-out.ts says it shows.
    `fps=${film}:round=near,tpad=stop=1:stop_mode=clone,trim=end_frame=${frames}`,
    `scale=${CANVAS.width}:${CANVAS.height}:force_original_aspect_ratio=decrease:force_divisible_by=2,pad=${CANVAS.width}:${CANVAS.height}:-1:-1,setsar=1,format=yuv420p[picture]`,
  ].join(',');
  if (!sound) return ['-i', joined('picture_init.mp4', pictures), '-filter_complex', `${picture};${silence(samplesOf(frames, rate) + 1)}`];

  const begins = Math.round((range.in * clipRate.den * SOUND_RATE) / clipRate.num);
  const ends = Math.round((range.outExclusive * clipRate.den * SOUND_RATE) / clipRate.num);
  const sounds = await soundSegments(proxy, begins, ends);
  const samples = samplesOf(frames, rate) + 1;
  const heard = `[1:a:0]aresample=${SOUND_RATE},aformat=sample_fmts=s16:channel_layouts=stereo,asetpts=N/SR/TB,atrim=start_sample=${begins - sounds.first}:end_sample=${ends - sounds.first},asetpts=N/SR/TB,apad,atrim=end_sample=${samples}[sound]`;
  return ['-i', joined('picture_init.mp4', pictures), '-i', joined('sound_init.mp4', sounds.files), '-filter_complex', `${picture};${heard}`];
}

/** The segments of a proxy's sound that samples lie in, with the one before them, without which the first would begin with a fault. */
async function soundSegments(proxy: (file: string) => string, begins: number, ends: number): Promise<{ files: string[]; first: number }> {
  const list = await readFile(proxy('sound.m3u8'), 'utf8');
  const files = list.split('\n').filter((line) => line && !line.startsWith('#'));
  const starts = await Promise.all(files.map(async (file) => Number(firstDecodeTime(await readFile(proxy(file))) ?? 0n)));
  const last = starts.findLastIndex((start) => start < ends);
  const from = Math.max(0, starts.findLastIndex((start) => start <= begins) - 1);
  return { files: files.slice(from, last + 1), first: starts[from] ?? 0 };
}

const silence = (samples: number): string => `anullsrc=r=${SOUND_RATE}:cl=stereo,atrim=end_sample=${samples},aformat=sample_fmts=s16:channel_layouts=stereo[sound]`;

/** Words on black, as a card between shots. */
async function cardSource({ rate, frames }: Piece, content: Extract<Content, { kind: 'card' }>, dir: string): Promise<string[]> {
  const file = join(dir, 'words.txt');
  await writeFile(file, wrapped(content));
  const written = `drawtext=fontfile='${escaped(FONT)}':textfile='${escaped(file)}':expansion=none:fontsize=34:fontcolor=0xe9e4da:line_spacing=14:x=(w-text_w)/2:y=(h-text_h)/2`;
  const picture = `color=black:s=${CANVAS.width}x${CANVAS.height}:r=${rate.num}/${rate.den},${written},trim=end_frame=${frames},setsar=1,format=yuv420p[picture]`;
  return ['-filter_complex', `${picture};${silence(samplesOf(frames, rate) + 1)}`];
}

const escaped = (path: string): string => path.replaceAll('\\', '/').replaceAll(/([:'])/g, '\\$1');
/** Characters of the script's face that a line of a card holds. */
const LINE = 40;
const LINES = 9;

function wrapped({ title, words }: { title: string; words: string }): string {
  const lines = [title.toUpperCase(), ...(words ? ['', words] : [])].flatMap((text) => {
    const rows = [''];
    for (const word of text.split(/\s+/)) {
      const row = rows.at(-1)!;
      if (row && row.length + word.length >= LINE) rows.push(word.slice(0, LINE));
      else rows[rows.length - 1] = row ? `${row} ${word}` : word.slice(0, LINE);
    }
    return rows;
  });
  return lines.slice(0, LINES).join('\n');
}

function outputs({ rate }: Piece, dir: string): string[] {
  const group = String(nominal(rate));
  return [
    ...['-map', '[picture]', '-an', '-map_metadata', '-1'],
    ...['-c:v', 'libx264', '-preset', 'veryfast', '-tune', 'fastdecode', '-crf', '23', '-maxrate', '4M', '-bufsize', '8M', '-bf', '0'],
    ...['-g', group, '-keyint_min', group, '-sc_threshold', '0', '-fps_mode', 'passthrough', '-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709'],
    ...['-f', 'hls', '-hls_time', String(segmentSeconds(rate)), '-hls_playlist_type', 'vod', '-hls_segment_type', 'fmp4', '-hls_flags', 'independent_segments'],
    ...['-hls_fmp4_init_filename', PICTURE_INIT, '-hls_segment_filename', join(dir, 'picture_%05d.m4s'), join(dir, PICTURE_LIST)],
    ...['-map', '[sound]', '-vn', '-c:a', 'pcm_s16le', '-f', 's16le', join(dir, SOUND_FILE)],
  ];
}

/** @throws PieceUnsound saying what is wrong. */
async function check({ rate, frames }: Piece, dir: string): Promise<void> {
  const list = await readFile(join(dir, PICTURE_LIST), 'utf8');
  const lengths = [...list.matchAll(/^#EXTINF:([\d.]+)/gm)].map(([, seconds]) => Number(seconds));
  const total = lengths.reduce((sum, length) => sum + length, 0);
  const expected = (frames * rate.den) / rate.num;
  if (lengths.length !== segmentCount(frames, rate) || Math.abs(total - expected) > 1e-6 * lengths.length + 1e-3) throw new PieceUnsound(`The picture is ${total} s in ${lengths.length} segments, and should be ${expected} s.`);
  const bytes = (await stat(join(dir, SOUND_FILE))).size;
  if (bytes !== (samplesOf(frames, rate) + 1) * SAMPLE_BYTES) throw new PieceUnsound(`The sound has ${bytes / SAMPLE_BYTES} samples.`);
}
