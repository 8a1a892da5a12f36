import { join } from 'node:path';
import { runFfmpeg, type Tools } from '../platform/ffmpeg.ts';
import { Refusal } from '../platform/errors.ts';
import { WAVE_RATE } from './contract.ts';
import { inputArgs } from './safety.ts';
import { WaveWriter } from './wave.ts';

export const PLAY_FILE = 'play.m4a';
/** The decoded sound for the analysis: float WAV, mono where the file is, otherwise stereo; it goes when it was listened to. */
export const HEARD_FILE = 'heard.wav';

const WAVE_PIPE = 4;
const LONGEST_SECONDS = 1800;

/**
 * One decode: the copy that plays, the wave, and the sound for the analysis, all counted from the first sample.
 * The copy is AAC in MP4: every browser of today plays it, its table of samples (ISO/IEC 14496-12, 8.6) leads to any
 * moment without estimating as in MP3 or ADTS, and its edit list (8.6.6) keeps the encoder's first 1024 samples out of
 * the count, so that a moment of the copy is that moment of the original.
 * @returns samples at `WAVE_RATE`.
 * @throws Refusal `not-music` for a file without a sample, `too-large` for more than half an hour; FfmpegFailed; the reason of the signal.
 */
export async function decodeTrack(source: string, dir: string, { tools, signal, onFraction }: { tools: Tools; signal: AbortSignal; onFraction: (fraction: number) => void }): Promise<{ samples: number }> {
  const wave = new WaveWriter(dir);
  let said = '';
  let total: number | null = null;
  await runFfmpeg({
    program: tools.ffmpeg,
    signal,
    args: [
      ...['-hide_banner', '-nostdin', '-nostats', '-y', '-v', 'info', ...inputArgs(source)],
      // Counted anew, because some containers begin after 0.
      ...['-filter_complex', `[0:a:0]aresample=${WAVE_RATE},asetpts=N/SR/TB,asplit=3[play][heard][wave];[play]aformat=channel_layouts=stereo|mono[playing];[heard]aformat=sample_fmts=flt:channel_layouts=stereo|mono[listened];[wave]aformat=sample_fmts=s16:channel_layouts=mono[waved]`],
      ...['-map_metadata', '-1', '-map_chapters', '-1', '-map', '[playing]', '-c:a', 'aac', '-b:a', '192k', '-movflags', '+faststart', '-t', String(LONGEST_SECONDS + 1), join(dir, PLAY_FILE)],
      ...['-map', '[listened]', '-c:a', 'pcm_f32le', '-t', String(LONGEST_SECONDS + 1), join(dir, HEARD_FILE)],
      ...['-map', '[waved]', '-t', String(LONGEST_SECONDS + 1), '-f', 's16le', `pipe:${WAVE_PIPE}`],
    ],
    onStderr: (text) => {
      if (total === null && said.length < 20_000) total = lengthIn((said += text));
    },
    pipes: {
      [WAVE_PIPE]: async (chunk) => {
        await wave.take(chunk);
        if (total) onFraction(Math.min(1, wave.samples / (total * WAVE_RATE)));
      },
    },
  });
  await wave.end();
  const { samples } = wave;
  if (samples === 0) throw new Refusal('not-music');
  if (samples > LONGEST_SECONDS * WAVE_RATE) throw new Refusal('too-large', 'A track is half an hour long at most.');
  return { samples };
}

/** The length that ffmpeg names for its input, in seconds. */
export function lengthIn(said: string): number | null {
  const [, hours, minutes, seconds] = /Duration: (\d+):(\d\d):([\d.]+)/.exec(said) ?? [];
  return seconds === undefined ? null : Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds);
}
