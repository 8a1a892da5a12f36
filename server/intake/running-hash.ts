import { createReadStream } from 'node:fs';
import { createXXHash64, type IHasher } from 'hash-wasm';

/**
 * xxh64 (seed 0, https://github.com/Cyan4973/xxHash) of files on their way in, taken while they arrive.
 * It lives in memory only: after a restart, or when the chunks went to another process, the bytes are read back from
 * disk, so that the sum always speaks of what was kept.
 */
export class RunningHashes {
  readonly #running = new Map<string, { hash: IHasher; upTo: number }>();

  /**
   * Readies the sum of the first `upTo` bytes of a file.
   * @returns a function to be called with every chunk that follows, in order.
   */
  async from(id: string, path: string, upTo: number): Promise<(chunk: Uint8Array) => void> {
    let state = this.#running.get(id);
    // A write that failed may have been summed: then the sum is ahead of the file and begins anew.
    if (!state || state.upTo > upTo) state = { hash: (await createXXHash64()).init(), upTo: 0 };
    if (state.upTo < upTo) {
      for await (const chunk of createReadStream(path, { start: state.upTo, end: upTo - 1, highWaterMark: 1024 * 1024 })) {
        state.hash.update(chunk as Buffer);
        state.upTo += (chunk as Buffer).byteLength;
      }
    }
    const running = state;
    this.#running.set(id, running);
    return (chunk) => {
      running.hash.update(chunk);
      running.upTo += chunk.byteLength;
    };
  }

  /** The sum of the whole file, 16 hex digits; forgets it. */
  async digest(id: string, path: string, bytes: number): Promise<string> {
    await this.from(id, path, bytes);
    const { hash } = this.#running.get(id)!;
    this.#running.delete(id);
    return hash.digest('hex');
  }

  /** To be called when what was written may differ from what was summed. */
  forget(id: string): void {
    this.#running.delete(id);
  }
}
