// Footage that nobody shot: what the demo film and the tests watch. Every frame says in words which clip it is and at
// what timecode, and says its number in a row of blocks that machines read (tests/fixtures/frame-blocks.ts).
import { readFile, rename, rm, writeFile } from 'node:fs/promises';
import { extname } from 'node:path';
import { fileURLToPath } from 'node:url';
import { nominal, type Rate } from '#core/rate.ts';
import { runFfmpeg, type Tools } from '../platform/ffmpeg.ts';
import { sceneGraph, type Scene } from './scenes.ts';

export type { Scene } from './scenes.ts';

/** What to shoot. Left out: 1280 × 720, H.264, stereo sound, no tags. */
export interface ClipSpec {
  /** Drawn on the picture. */
  name: string;
  scene: Scene;
  rate: Rate;
  /** Frames of picture; with `phoneRate`, those the phone would have taken at a steady rate. */
  frames: number;
  seed?: number;
  /** Size as shown, both even. */
  width?: number;
  height?: number;
  /** Pixels of unsteadiness: 0 on a tripod, about 6 in the hand. */
  sway?: number;
  codec?: 'h264' | 'hevc-10-bit';
  silent?: boolean;
  /** Stores the picture lying on its side, with a display matrix that turns it upright, as phones do. */
  turned?: boolean;
  /** Leaves frames out irregularly and jitters the rest, as phones do; see `phoneKeeps`. */
  phoneRate?: boolean;
  /** Such as "10:00:00:00"; a semicolon before the frames for drop-frame. */
  startTimecode?: string;
  /** ISO 8601 with the offset the camera's clock was set to. */
  capturedAt?: string;
  make?: string;
  model?: string;
  reel?: string;
}

const FONT = fileURLToPath(import.meta.resolve('@fontsource/courier-prime/files/courier-prime-latin-700-normal.woff'));

/** Whether the phone took frame `n`: it skips one now and then, and nine at a time when the light goes. */
export const phoneKeeps = (n: number): boolean => n === 0 || !((n * 37) % 101 < 14 || (n % 97 >= 40 && n % 97 <= 48));
const PHONE_KEEPS = "eq(n,0)+not(lt(mod(n*37,101),14)+between(mod(n,97),40,48))";
const PHONE_CLOCK = 90_000;

/**
 * Makes a clip, .mov (PCM sound) or .mp4 (AAC). Half the size of the result lies beside it while it is being made.
 * @throws FfmpegFailed; the reason of the signal.
 */
export async function makeClip(spec: ClipSpec, outFile: string, tools: Tools, signal?: AbortSignal): Promise<void> {
  const making = outFile.replace(/(\.\w+)$/, '.making$1');
  try {
    await runFfmpeg({ program: tools.ffmpeg, signal, args: clipArgs(spec, making) });
    if (spec.turned) await markTurned(making, spec.height ?? 720);
    await rename(making, outFile);
  } finally {
    await rm(making, { force: true });
  }
}

function clipArgs(spec: ClipSpec, outFile: string): string[] {
  const { rate, frames, width = 1280, height = 720 } = spec;
  const mov = extname(outFile) === '.mov';
  const seconds = (frames * rate.den) / rate.num;
  const sound = `anoisesrc=c=brown:a=0.06:r=48000:seed=${spec.seed ?? 1}[air];aevalsrc='0.2*sin(2*PI*880*t)*lt(mod(t,1),0.04)':s=48000[pip];[air][pip]amix=inputs=2:normalize=0,aformat=channel_layouts=stereo,atrim=end=${seconds}[sound]`;
  const tags: Record<string, string | undefined> = {
    creation_time: spec.capturedAt && new Date(spec.capturedAt).toISOString(),
    ...(mov ? { 'com.apple.quicktime.creationdate': spec.capturedAt, 'com.apple.quicktime.make': spec.make, 'com.apple.quicktime.model': spec.model } : { make: spec.make, model: spec.model }),
    reel_name: spec.reel,
  };
  return [
    ...['-hide_banner', '-nostdin', '-y', '-filter_complex', spec.silent ? pictureGraph(spec, width, height) : `${pictureGraph(spec, width, height)};${sound}`],
    ...['-map', '[picture]', ...(spec.silent ? [] : ['-map', '[sound]', '-c:a', mov ? 'pcm_s16le' : 'aac', '-b:a', '128k'])],
    ...(spec.codec === 'hevc-10-bit'
      ? ['-c:v', 'libx265', '-preset', 'ultrafast', '-crf', '24', '-pix_fmt', 'yuv420p10le', '-tag:v', 'hvc1', '-x265-params', 'log-level=error']
      : ['-c:v', 'libx264', '-preset', 'ultrafast', '-bf', '2', '-crf', '23', '-pix_fmt', 'yuv420p']),
    ...['-g', String(nominal(rate)), '-fps_mode', 'passthrough', '-color_primaries', 'bt709', '-color_trc', 'bt709', '-colorspace', 'bt709'],
    ...(spec.phoneRate ? ['-video_track_timescale', String(PHONE_CLOCK)] : []),
    ...Object.entries(tags).flatMap(([key, value]) => (value === undefined ? [] : ['-metadata', `${key}=${value}`])),
    ...(spec.reel === undefined ? [] : ['-metadata:s:v', `reel_name=${spec.reel}`]),
    ...(spec.startTimecode === undefined ? [] : ['-timecode', spec.startTimecode]),
    ...['-movflags', '+use_metadata_tags', outFile],
  ];
}

function pictureGraph(spec: ClipSpec, width: number, height: number): string {
  const { scene, rate, frames, seed = 1, sway = 0 } = spec;
  const fps = `${rate.num}/${rate.den}`;
  const margin = 2 * Math.ceil(sway / 2);
  const picture = [
    `crop=iw-${2 * margin}:ih-${2 * margin}:'${margin}+${margin}*sin(n/${fps}*1.9)*cos(n/${fps}*0.7)':'${margin}+${margin}*sin(n/${fps}*1.3)'`,
    `scale=${width}:${height}:flags=bilinear`,
    'setsar=1',
    words(width * 0.03, width * 0.03, width / 24, `text='${spec.name.replaceAll(/[^\w .-]/g, '')}'`),
    words(width * 0.03, width * 0.03 + width / 18, width / 36, `timecode='${(spec.startTimecode ?? '00:00:00:00').replaceAll(/([:;])/g, '\\$1')}':rate=${fps}:text=''`),
    words(width * 0.03, height * 0.89, width / 52, "text='Invented footage'"),
  ];
  const blocks = [
    `color=black:s=32x2:r=${fps},format=gray`,
    // Columns 0 to 23 are the number, 24 to 31 the check; bit k of a value v is mod(floor(v / 2^k), 2).
    "geq=lum='255*mod(floor(if(lt(X,24),N/pow(2,23-X),(165+mod(N,256)+3*mod(floor(N/256),256)+5*floor(N/65536))/pow(2,31-X))),2)'",
    `scale=${width}:${2 * Math.round(height / 40)}:flags=neighbor:out_range=tv,format=yuv420p[blocks]`,
  ];
  return [
    sceneGraph(scene, width / 2, height / 2, fps, seed),
    `[scene]${(sway > 0 ? picture : picture.slice(1)).join(',')}[worded]`,
    blocks.join(','),
    `[worded][blocks]overlay=0:H-h:shortest=1,trim=end_frame=${frames}${spec.phoneRate ? `,select='${PHONE_KEEPS}',settb=1/${PHONE_CLOCK},setpts='PTS+if(N,floor(${(0.4 * PHONE_CLOCK * rate.den) / rate.num}*sin(PTS)),0)'` : ''}${spec.turned ? ',transpose=cclock' : ''}[picture]`,
  ].join(';');
}

const words = (x: number, y: number, size: number, what: string): string =>
  `drawtext=fontfile='${FONT.replaceAll('\\', '/').replaceAll(/([:'])/g, '\\$1')}':${what}:x=${Math.round(x)}:y=${Math.round(y)}:fontsize=${Math.round(size)}:fontcolor=white:box=1:boxcolor=black@0.55:boxborderw=6`;

// 90 degrees clockwise, fixed point 16.16 and 2.30. Source: ISO/IEC 14496-12, 8.3.2 (track header box).
const CLOCKWISE = [0, 0x00010000, 0, -0x00010000, 0, 0, 0, 0, 0x40000000];

/**
 * Writes a display matrix into the first track header. Options of ffmpeg that do this came and went between versions.
 * @param height of the picture as stored, which is where the turned picture has to be moved to.
 */
async function markTurned(file: string, shownHeight: number): Promise<void> {
  const bytes = await readFile(file);
  const box = bytes.indexOf('tkhd', bytes.indexOf('moov'));
  // Version 0: type 4, version and flags 4, times, id and duration 20, reserved, layer, group, volume 16, then the matrix.
  const version1 = bytes[box + 4] === 1 ? 12 : 0;
  CLOCKWISE.forEach((value, i) => bytes.writeInt32BE(i === 6 ? shownHeight << 16 : value, box + 44 + version1 + 4 * i));
  await writeFile(file, bytes);
}
