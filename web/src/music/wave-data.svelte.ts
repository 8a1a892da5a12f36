import { WAVE_FACTOR, WAVE_LEVELS, WAVE_RATE, type Track } from '#contract/music';

const BLOCK_BYTES = 16_384;
/** Blocks kept: 16 MB, a screen needs about ten. */
const BLOCKS = 1024;

/** Address of a file of a track. */
export const trackMedia = (filmId: string, track: Pick<Track, 'id' | 'version'>, file: string): string => `/api/films/${filmId}/tracks/${track.id}/media/${track.version}/${file}`;

/** The wave of a track, read in blocks as they are looked at. */
export class WaveData {
  /** Rises when a block has arrived: whoever draws reads it to be drawn again. */
  arrived = $state(0);
  readonly lengthMs: number;
  readonly #address: (level: number) => string;
  readonly #blocks = new Map<string, Int16Array | null>();

  constructor(filmId: string, track: Track & { lengthMs: number }) {
    this.lengthMs = track.lengthMs;
    this.#address = (level) => trackMedia(filmId, track, `wave-${level}.bin`);
  }

  /** Points of a level. */
  count(level: number): number {
    return Math.ceil((this.lengthMs * WAVE_RATE) / 1000 / WAVE_FACTOR ** level);
  }

  /** Milliseconds that a point of a level stands for. */
  static msOf(level: number): number {
    return (1000 * WAVE_FACTOR ** level) / WAVE_RATE;
  }

  /**
   * Lowest and highest of the points `from` to `toExclusive` of a level; of a coarser level while these are not here,
   * and null while there is nothing at all.
   */
  extremes(level: number, from: number, toExclusive: number): { low: number; high: number } | null {
    let low = Infinity;
    let high = -Infinity;
    const words = level === 0 ? 1 : 2;
    const perBlock = BLOCK_BYTES / 2 / words;
    for (let point = Math.max(0, from); point < toExclusive; point++) {
      const block = this.#block(level, Math.floor(point / perBlock));
      if (!block) return level + 1 < WAVE_LEVELS ? this.extremes(level + 1, Math.floor(from / WAVE_FACTOR), Math.max(Math.floor(from / WAVE_FACTOR) + 1, Math.ceil(toExclusive / WAVE_FACTOR))) : null;
      const at = (point % perBlock) * words;
      if (at >= block.length) break;
      low = Math.min(low, block[at]!);
      high = Math.max(high, block[at + words - 1]!);
    }
    return high >= low ? { low: low / 32_768, high: high / 32_768 } : null;
  }

  /** A block, or null while it is on its way. */
  #block(level: number, index: number): Int16Array | null {
    const key = `${level}/${index}`;
    const block = this.#blocks.get(key);
    if (block === undefined && index * BLOCK_BYTES < this.count(level) * (level === 0 ? 2 : 4)) void this.#fetch(key, level, index);
    return block ?? null;
  }

  async #fetch(key: string, level: number, index: number): Promise<void> {
    this.#blocks.set(key, null);
    try {
      const answer = await fetch(this.#address(level), { headers: { range: `bytes=${index * BLOCK_BYTES}-${(index + 1) * BLOCK_BYTES - 1}` } });
      // The length in milliseconds is rounded, so the last block may lie past the end.
      const bytes = answer.status === 206 ? await answer.arrayBuffer() : answer.status === 416 ? new ArrayBuffer(0) : null;
      if (!bytes) throw new Error(`The wave answered ${answer.status}.`);
      if (this.#blocks.size > BLOCKS) this.#blocks.delete(this.#blocks.keys().next().value!);
      this.#blocks.set(key, littleEndian(bytes));
      this.arrived += 1;
    } catch {
      // Asked for again when it is next looked at.
      this.#blocks.delete(key);
    }
  }
}

function littleEndian(bytes: ArrayBuffer): Int16Array {
  const view = new DataView(bytes);
  return Int16Array.from({ length: bytes.byteLength >> 1 }, (_, n) => view.getInt16(n * 2, true));
}
