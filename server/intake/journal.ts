// What is known of a file on its way in, kept beside it as <id>.json: length, metadata, and what is about to be done with
// it, written before it is done. After a crash the sweep reads here how far it came.
import { readFile, rename, rm, writeFile } from 'node:fs/promises';
import type { KvStore, Upload } from '@tus/server';
import { MOVING, type Storage } from '../platform/storage.ts';

/** Where a whole and checked file is going. */
export interface Move {
  clipId: string;
  /** It is no clip and is kept beside the clips of its card. */
  beside?: boolean;
  /** Inside the originals. */
  path: string;
  xxh64: string;
  bytes: number;
}

export type Kept = Upload & {
  /** Bytes from here on belong to a chunk whose checksum has not been compared yet. */
  unverifiedFrom?: number;
  /** Written before the file is moved. */
  move?: Move;
  /** Sent in one piece without tus, so nobody can go on with it after a crash. */
  onePiece?: boolean;
};

export class Journal implements KvStore<Upload> {
  readonly #storage: Storage;

  constructor(storage: Storage) {
    this.#storage = storage;
  }

  async get(id: string): Promise<Kept | undefined> {
    try {
      return JSON.parse(await readFile(this.#path(id), 'utf8')) as Kept;
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'ENOENT') return undefined;
      throw error;
    }
  }

  async set(id: string, kept: Kept): Promise<void> {
    // Renamed into place, so that a crash leaves the old entry or the new one.
    const draft = this.#storage.path('incoming', `.${id}.draft`);
    await writeFile(draft, JSON.stringify(kept));
    await rename(draft, this.#path(id));
  }

  async delete(id: string): Promise<void> {
    await rm(this.#path(id), { force: true });
  }

  /** Ids of everything on its way in, whole or in part. */
  async list(): Promise<string[]> {
    const names = [...(await this.#storage.list('incoming', '')), ...(await this.#storage.list('originals', MOVING))];
    const ids = names.map((name) => /^\.?([0-9a-f-]{36})(\.json|\.draft)?$/.exec(name)?.[1]);
    return [...new Set(ids.filter((id) => id !== undefined))];
  }

  /** Takes away everything kept of an upload. */
  async clear(id: string): Promise<void> {
    await this.#storage.remove('incoming', id);
    await this.#storage.remove('incoming', `.${id}.draft`);
    await this.#storage.remove('originals', `${MOVING}/${id}`);
    await this.delete(id);
  }

  #path(id: string): string {
    return this.#storage.path('incoming', `${id}.json`);
  }
}
