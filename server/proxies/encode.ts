// One decode: picture and sound renditions as HLS, a still a second, the peaks of the sound, and the traces of what is
// wrong with picture and sound, from one run of ffmpeg.
// The settings are those measured to give no wrong frame in Chromium; see DEVELOPERS.md, "Proxies".
import { existsSync } from 'node:fs';
import { mkdir, readdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { segmentSeconds } from '#core/hls-time.ts';
import { nominal } from '#core/rate.ts';
import type { Traces } from '#core/traces.ts';
import { runFfmpeg, type Tools } from '../platform/ffmpeg.ts';
import { sync } from '../platform/storage.ts';
import { Analyst, TRACES_FILE } from './analysis/index.ts';
import { checkProxy } from './check.ts';
import { PeaksReader } from './peaks.ts';
import type { Probe } from './probe.ts';
import { inputArgs } from './safety.ts';

export interface EncodeProgress {
  /** 0 to 1. */
  fraction: number;
  /** Frames written so far. */
  frames: number;
  fps: number;
  etaSeconds: number | null;
}

export interface EncodeOptions {
  source: string;
  probe: Probe;
  /** Made when it is not there. */
  outDir: string;
  tools: Tools;
  signal?: AbortSignal;
  onProgress?: (progress: EncodeProgress) => void;
  /** Called once, as soon as a browser can begin to play. */
  onPlayable?: () => void;
  /** False leaves the traces out: the bench measures what they cost. */
  traces?: boolean;
}

const SHORT_SIDE = 540;
const STILL_HEIGHT = 180;
const PEAKS_PIPE = 4;
const ANALYSIS_PIPES = { small: 5, large: 6, sound: 7 };

/**
 * Makes a proxy and checks it; when it returns, everything is whole and on the disk.
 * @returns frames in the proxy, and its traces.
 * @throws FfmpegFailed, ProxyUnsound, or the signal's reason; what was written so far is the caller's to remove.
 */
export async function encodeProxy({ source, probe, outDir, tools, signal, onProgress, onPlayable, traces = true }: EncodeOptions): Promise<{ frames: number; traces: Traces | null }> {
  await mkdir(join(outDir, 'stills'), { recursive: true });
  const peaks = probe.audio ? new PeaksReader() : null;
  const analyst = traces ? new Analyst(probe, ANALYSIS_PIPES) : null;
  const needed = ['master.m3u8', 'picture.m3u8', ...(probe.audio ? ['sound.m3u8'] : [])].map((name) => join(outDir, name));
  let playable = false;
  let frames = 0;
  await runFfmpeg({
    program: tools.ffmpeg,
    args: encodeArgs(source, probe, outDir, analyst),
    signal,
    pipes: { ...analyst?.readers, ...(peaks ? { [PEAKS_PIPE]: (chunk: Buffer) => peaks.take(chunk) } : {}) },
    onProgress: ({ frame, fps }) => {
      frames = frame;
      onProgress?.({ fraction: Math.min(0.99, frame / probe.frames), frames: frame, fps, etaSeconds: fps > 0 ? Math.max(0, (probe.frames - frame) / fps) : null });
      if (playable || !needed.every((file) => existsSync(file))) return;
      playable = true;
      onPlayable?.();
    },
  });
  if (peaks) await writeFile(join(outDir, 'peaks.json'), JSON.stringify(peaks.result()));
  const traced = analyst?.result() ?? null;
  if (traced) await writeFile(join(outDir, TRACES_FILE), JSON.stringify(traced));
  await checkProxy(outDir, { rate: probe.rate, frames, expected: probe.frames, sound: probe.audio !== null });
  for (const name of await readdir(outDir, { recursive: true })) await sync(join(outDir, name));
  await sync(outDir);
  return { frames, traces: traced };
}

function encodeArgs(source: string, probe: Probe, outDir: string, analyst: Analyst | null): string[] {
  const { rate, audio } = probe;
  const group = nominal(rate);
  const fps = `${rate.num}/${rate.den}`;
  const square = probe.squarePixels ? '' : "scale='trunc(iw*sar/2)*2':ih,";
  const short = `trunc(min(${SHORT_SIDE},min(iw,ih))/2)*2`;
  const graph = [
    `[0:V:0]setpts=PTS-STARTPTS,fps=${fps}:round=near,${square}scale='if(gt(iw,ih),-2,${short})':'if(gt(iw,ih),${short},-2)',setsar=1,format=yuv420p,${analyst ? 'split=4[picture][forstills][small][large]' : 'split=2[picture][forstills]'}`,
    `[forstills]select='not(mod(n,${group}))',scale=-2:${STILL_HEIGHT}[stills]`,
    ...(analyst?.pictureFilters() ?? []),
    ...(audio
      ? [
          `[0:a:0]asetpts=PTS-${probe.pictureStart}/TB,aresample=48000:async=1:first_pts=0,${analyst ? 'asplit=3[heard][forpeaks][measured]' : 'asplit=2[heard][forpeaks]'}`,
          // The AAC encoder puts 1024 samples before the first; without them both renditions begin at 0.
          // Mixed down behind a filter of its own, or ffmpeg mixes before the branches part and all of them get two channels.
          '[heard]aresample=48000,aformat=channel_layouts=stereo,atrim=start_sample=1024[sound]',
          '[forpeaks]aresample=8000,aformat=sample_fmts=s16:channel_layouts=mono[peaks]',
          ...(analyst?.soundFilters() ?? []),
        ]
      : []),
  ].join(';');
  const hls = [
    ...['-f', 'hls', '-hls_time', String(segmentSeconds(rate)), '-hls_playlist_type', 'event', '-hls_segment_type', 'fmp4'],
    ...['-hls_flags', 'independent_segments+temp_file', '-master_pl_name', 'master.m3u8'],
  ];
  // With one rendition alone ffmpeg does not put its name into the name of the first file.
  const names = audio
    ? ['-var_stream_map', 'v:0,agroup:sound,name:picture a:0,agroup:sound,default:yes,name:sound', '-hls_fmp4_init_filename', '%v_init.mp4', '-hls_segment_filename', join(outDir, '%v_%05d.m4s'), join(outDir, '%v.m3u8')]
    : ['-hls_fmp4_init_filename', 'picture_init.mp4', '-hls_segment_filename', join(outDir, 'picture_%05d.m4s'), join(outDir, 'picture.m3u8')];
  return [
    ...['-hide_banner', '-nostdin', '-y', '-v', 'warning', ...inputArgs(source), '-filter_complex', graph],
    ...['-map', '[picture]', ...(audio ? ['-map', '[sound]'] : []), '-sn', '-dn', '-map_metadata', '-1', '-map_chapters', '-1'],
    ...['-c:v', 'libx264', '-preset', 'veryfast', '-tune', 'fastdecode', '-crf', '23', '-maxrate', '4M', '-bufsize', '8M', '-bf', '0'],
    ...['-g', String(group), '-keyint_min', String(group), '-sc_threshold', '0', '-fps_mode', 'passthrough'],
    ...(audio ? ['-c:a', 'aac', '-b:a', '128k', '-ar', '48000'] : []),
    ...hls,
    ...names,
    ...['-map', '[stills]', '-fps_mode', 'passthrough', '-q:v', '5', '-start_number', '1', '-f', 'image2', join(outDir, 'stills/%06d.jpg')],
    ...(audio ? ['-map', '[peaks]', '-f', 's16le', `pipe:${PEAKS_PIPE}`] : []),
    ...(analyst?.outputArgs() ?? []),
  ];
}
