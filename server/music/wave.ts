// The wave as a pyramid: level 0 is the samples, every point above the lowest and highest of eight points below. A screen
// takes the level that has at least one point a pixel, so it reads a few kilobytes at any zoom.
import { createWriteStream } from 'node:fs';
import { writeFile } from 'node:fs/promises';
import { once } from 'node:events';
import { join } from 'node:path';
import { WAVE_FACTOR, WAVE_LEVELS } from './contract.ts';

/** Name of a level's file: signed 16-bit little-endian; samples at level 0, pairs of lowest and highest above. */
export const waveFile = (level: number): string => `wave-${level}.bin`;

class Level {
  #points = new Int16Array(1 << 14);
  #length = 0;
  #count = 0;
  #low = 0;
  #high = 0;
  readonly #above: Level | null;

  constructor(above: Level | null) {
    this.#above = above;
  }

  take(low: number, high: number): void {
    if (this.#count === 0) {
      this.#low = low;
      this.#high = high;
    } else {
      if (low < this.#low) this.#low = low;
      if (high > this.#high) this.#high = high;
    }
    if (++this.#count === WAVE_FACTOR) this.#close();
  }

  /** Ends with whatever the last point has. */
  end(): Int16Array {
    if (this.#count) this.#close();
    return this.#points.subarray(0, this.#length);
  }

  #close(): void {
    if (this.#length === this.#points.length) {
      const wider = new Int16Array(this.#length * 2);
      wider.set(this.#points);
      this.#points = wider;
    }
    this.#points[this.#length++] = this.#low;
    this.#points[this.#length++] = this.#high;
    this.#count = 0;
    this.#above?.take(this.#low, this.#high);
  }
}

/** Takes mono samples, signed 16 bit little-endian, as they are decoded, and writes the levels into a folder. */
export class WaveWriter {
  readonly #dir: string;
  readonly #levels: Level[];
  readonly #samples;
  #odd: Buffer = Buffer.alloc(0);
  samples = 0;

  constructor(dir: string) {
    this.#dir = dir;
    this.#levels = [];
    for (let level = WAVE_LEVELS - 1, above: Level | null = null; level > 0; level--) this.#levels.unshift((above = new Level(above)));
    this.#samples = createWriteStream(join(dir, waveFile(0)));
    // A full disk is told where the stream is waited for.
    this.#samples.on('error', () => {});
  }

  async take(chunk: Buffer): Promise<void> {
    const bytes = this.#odd.length ? Buffer.concat([this.#odd, chunk]) : chunk;
    const whole = bytes.length - (bytes.length % 2);
    const first = this.#levels[0]!;
    for (let at = 0; at < whole; at += 2) {
      const sample = bytes.readInt16LE(at);
      first.take(sample, sample);
    }
    this.samples += whole / 2;
    this.#odd = Buffer.from(bytes.subarray(whole));
    if (this.#samples.errored) throw this.#samples.errored;
    if (!this.#samples.write(bytes.subarray(0, whole))) await once(this.#samples, 'drain');
  }

  /** Writes what is left. */
  async end(): Promise<void> {
    const finished = once(this.#samples, 'close');
    this.#samples.end();
    // Each level hands its last point up before the next ends.
    for (const [n, level] of this.#levels.entries()) await writeFile(join(this.#dir, waveFile(n + 1)), littleEndian(level.end()));
    await finished;
    if (this.#samples.errored) throw this.#samples.errored;
  }
}

function littleEndian(points: Int16Array): Buffer {
  const bytes = Buffer.alloc(points.length * 2);
  for (let at = 0; at < points.length; at++) bytes.writeInt16LE(points[at]!, at * 2);
  return bytes;
}
