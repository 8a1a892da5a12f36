// What ffmpeg may open of music: closed lists of containers and codecs, and nothing a file might refer to
// (OWASP ASVS 5.0.0, 1.3.6), as with clips.
import { FfmpegFailed, runFfmpeg, type Tools } from '../platform/ffmpeg.ts';
import { Refusal } from '../platform/errors.ts';
import { isListOfFiles } from '../proxies/index.ts';

/** As many first bytes as `sniffMusic` wants. */
export const HEAD_BYTES = 512;

const DEMUXERS = 'wav,flac,mp3,mov,aac,ogg';
const CODECS = 'pcm_u8,pcm_s16le,pcm_s24le,pcm_s32le,pcm_f32le,pcm_f64le,flac,mp3,mp3float,aac,alac,vorbis,opus,libopus';

/** Arguments that open a file of ours as music. */
export const inputArgs = (path: string): string[] => ['-protocol_whitelist', 'file', '-format_whitelist', DEMUXERS, '-codec_whitelist', CODECS, '-i', `file:${path}`];

/**
 * Refuses by the first bytes what is no music: RIFF/RF64 WAVE, FLAC, Ogg, MP4, MP3 with or without ID3, ADTS pass.
 * @throws Refusal `empty-file`, `refused-format` for lists of files, `not-music`.
 */
export function sniffMusic(head: Buffer): void {
  if (head.length === 0) throw new Refusal('empty-file');
  if (isListOfFiles(head)) throw new Refusal('refused-format');
  const ascii = (from: number, to: number) => head.subarray(from, to).toString('latin1');
  const wave = ['RIFF', 'RF64'].includes(ascii(0, 4)) && ascii(8, 12) === 'WAVE';
  // MPEG audio, ISO/IEC 11172-3, 2.4.1.3: twelve bits of sync (eleven with the 2.5 extension); ADTS, ISO/IEC 13818-7, 6.2, begins alike.
  const sync = head[0] === 0xff && ((head[1] ?? 0) & 0xe0) === 0xe0;
  if (wave || sync || ascii(0, 4) === 'fLaC' || ascii(0, 4) === 'OggS' || ascii(0, 3) === 'ID3' || ascii(4, 8) === 'ftyp') return;
  throw new Refusal('not-music');
}

/**
 * Judges a file that arrived whole: its first second must come out as sound.
 * @throws Refusal `not-music`, `refused-format`.
 */
export async function checkMusic(path: string, { ffmpeg }: Tools, signal?: AbortSignal): Promise<void> {
  const args = ['-hide_banner', '-nostdin', '-v', 'warning', ...inputArgs(path), '-map', '0:a:0', '-t', '1', '-f', 's16le', 'pipe:1'];
  let bytes = 0;
  await runFfmpeg({ program: ffmpeg, args, signal, pipes: { 1: (chunk) => void (bytes += chunk.byteLength) } }).catch((error: unknown) => {
    if (!(error instanceof FfmpegFailed)) throw error;
    throw new Refusal(/enable_drefs|external track/i.test(error.stderrTail) ? 'refused-format' : 'not-music', undefined, { cause: error });
  });
  if (bytes === 0) throw new Refusal('not-music');
}
