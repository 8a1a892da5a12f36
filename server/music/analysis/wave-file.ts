import { closeSync, fstatSync, openSync, readSync } from 'node:fs';
import type { Sound } from './sound.ts';

const FLOAT = 3;
const EXTENSIBLE = 0xfffe;
const FRAMES_A_BLOCK = 1 << 15;

/**
 * A WAV file of 32-bit float samples (RIFF/WAVE, format tag 3, or the extensible one with that subformat), read from disk anew
 * for each pass, so that a long track costs no memory. A file that was written to a pipe and does not know its size is read
 * to its end.
 * @throws RangeError when the file is no such WAV.
 */
export function waveFile(path: string): Sound {
  const head = withFile(path, (fd, size) => headOf(fd, size));
  return {
    ...head,
    *blocks() {
      const fd = openSync(path, 'r');
      try {
        const bytes = new Uint8Array(FRAMES_A_BLOCK * head.channels * 4);
        const interleaved = new Float32Array(bytes.buffer);
        const apart = Array.from({ length: head.channels }, () => new Float32Array(FRAMES_A_BLOCK));
        for (let at = 0; at < head.length; at += FRAMES_A_BLOCK) {
          const frames = Math.min(FRAMES_A_BLOCK, head.length - at);
          readWhole(fd, bytes.subarray(0, frames * head.channels * 4), head.from + at * head.channels * 4);
          apart.forEach((samples, channel) => {
            for (let i = 0; i < frames; i++) samples[i] = interleaved[i * head.channels + channel]!;
          });
          yield frames === FRAMES_A_BLOCK ? apart : apart.map((samples) => samples.subarray(0, frames));
        }
      } finally {
        closeSync(fd);
      }
    },
  };
}

function headOf(fd: number, size: number): { sampleRate: number; channels: number; length: number; from: number } {
  const at = (from: number, length: number): Buffer => {
    const bytes = Buffer.alloc(length);
    if (from + length > size) throw new RangeError('The WAV file ends in its head');
    readWhole(fd, bytes, from);
    return bytes;
  };
  const riff = at(0, 12);
  if (riff.toString('latin1', 0, 4) !== 'RIFF' || riff.toString('latin1', 8, 12) !== 'WAVE') throw new RangeError('No WAV file');
  let format: Buffer | null = null;
  for (let from = 12; ; ) {
    const chunk = at(from, 8);
    const [name, length] = [chunk.toString('latin1', 0, 4), chunk.readUInt32LE(4)];
    if (name === 'fmt ') format = at(from + 8, Math.min(40, length));
    if (name === 'data' && format) {
      const tag = format.readUInt16LE(0) === EXTENSIBLE && format.length >= 26 ? format.readUInt16LE(24) : format.readUInt16LE(0);
      const channels = format.readUInt16LE(2);
      if (tag !== FLOAT || format.readUInt16LE(14) !== 32 || channels === 0) throw new RangeError('The WAV file is not of 32-bit float samples');
      return { sampleRate: format.readUInt32LE(4), channels, length: Math.floor(Math.min(length, size - from - 8) / (channels * 4)), from: from + 8 };
    }
    from += 8 + length + (length % 2);
  }
}

function readWhole(fd: number, into: Uint8Array, from: number): void {
  for (let done = 0; done < into.length; ) {
    const read = readSync(fd, into, done, into.length - done, from + done);
    if (read === 0) throw new RangeError('The WAV file became shorter while it was read');
    done += read;
  }
}

function withFile<T>(path: string, use: (fd: number, size: number) => T): T {
  const fd = openSync(path, 'r');
  try {
    return use(fd, fstatSync(fd).size);
  } finally {
    closeSync(fd);
  }
}
