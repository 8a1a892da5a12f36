// What a run remembers for the next one, should it be killed: checksums already made, and where uploads stand. A line a
// fact, appended; a last line that was cut off by the kill is passed over. Losing it costs time, never a file.
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { appendFile, mkdir, rm } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import type { Found } from './walk.ts';

interface Fact {
  path: string;
  size: number;
  mtimeMs: number;
  xxh64?: string;
  upload?: string | null;
}

export class Memory {
  readonly #file: string;
  readonly #facts = new Map<string, Fact>();

  /** @param about what the run is about: folder, server, film, card. */
  constructor(cacheDir: string, about: string[]) {
    this.#file = join(cacheDir, 'rushlight-send', `${createHash('sha256').update(JSON.stringify(about)).digest('hex').slice(0, 32)}.jsonl`);
    if (existsSync(this.#file)) for (const line of readFileSync(this.#file, 'utf8').split('\n')) this.#read(line);
  }

  /** The checksum made of this very file, or null. */
  sumOf(found: Found): string | null {
    return this.#of(found)?.xxh64 ?? null;
  }

  /** Address of the unfinished upload of this very file, or null. */
  uploadOf(found: Found): string | null {
    return this.#of(found)?.upload ?? null;
  }

  async keep({ path, size, mtimeMs }: Found, more: { xxh64?: string; upload?: string | null }): Promise<void> {
    const before = this.#of({ path, size, mtimeMs });
    const fact = { ...before, path, size, mtimeMs, ...more };
    this.#facts.set(path, fact);
    await mkdir(dirname(this.#file), { recursive: true });
    // The line end comes first, so that it also ends a line that was cut off.
    await appendFile(this.#file, `\n${JSON.stringify(fact)}`, { mode: 0o600 });
  }

  /** Everything arrived: nothing has to be remembered. */
  async forget(): Promise<void> {
    await rm(this.#file, { force: true });
  }

  #of({ path, size, mtimeMs }: Pick<Found, 'path' | 'size' | 'mtimeMs'>): Fact | null {
    const fact = this.#facts.get(path);
    return fact && fact.size === size && fact.mtimeMs === mtimeMs ? fact : null;
  }

  #read(line: string): void {
    try {
      const fact = JSON.parse(line) as Fact;
      if (typeof fact.path === 'string') this.#facts.set(fact.path, fact);
    } catch {
      // The line that was being written when the run was killed.
    }
  }
}
