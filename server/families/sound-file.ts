// The sound of a clip for the alignment: out of its proxy, where picture and sound begin together, so that no original is
// read and a clip that came in long ago needs nothing made anew. It goes to a file, which is read piece by piece: an hour
// is 58 MB there, and nothing in memory.
import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import { runFfmpeg } from '../platform/ffmpeg.ts';
import { SOUND_RATE, type Sound } from './sound.ts';

/** Writes the sound of a proxy as mono of SOUND_RATE, signed 16 bit, without a head. Throws FfmpegFailed. */
export async function writeSound(ffmpeg: string, playlist: string, path: string, signal?: AbortSignal): Promise<void> {
  const args = ['-hide_banner', '-nostdin', '-y', '-v', 'warning', '-protocol_whitelist', 'file', '-i', playlist, '-map', '0:a:0', '-ac', '1', '-ar', String(SOUND_RATE), '-f', 's16le', path];
  await runFfmpeg({ program: ffmpeg, args, signal });
}

/** What `writeSound` wrote, read where it is asked for. Close it. */
export function openSound(path: string): Sound & { close(): void } {
  const file = openSync(path, 'r');
  const length = Math.floor(fstatSync(file).size / 2);
  return {
    length,
    read(from, count) {
      const piece = new Int16Array(count);
      const first = Math.max(0, from);
      const samples = Math.min(length, from + count) - first;
      if (samples > 0) readSync(file, new Uint8Array(piece.buffer, (first - from) * 2, samples * 2), 0, samples * 2, first * 2);
      return piece;
    },
    close: () => closeSync(file),
  };
}
