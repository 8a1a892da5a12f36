// Media on disk. Originals are immutable and keep readable, stable paths; derivatives stand on a root of their own
// and can always be made again. A folder without its sentinel is an unmounted disk, not an empty store.
import { createReadStream, existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { access, copyFile, link, mkdir, open, readdir, rename, rm, stat, statfs, unlink } from 'node:fs/promises';
import { basename, dirname, join, normalize, resolve, sep } from 'node:path';
import type { Readable } from 'node:stream';

/** `proxies` and `music` hold what was made from originals of clips and of tracks, `string-outs` what was made of proxies and tracks. */
export type Area = 'incoming' | 'originals' | 'proxies' | 'music' | 'string-outs';
const SENTINEL = '.rushlight';
/** Folder of an area for what is being copied into it from another disk, each under the name it had there. */
export const MOVING = '.moving';

export interface Storage {
  /** Address of a file or folder for tools that need one on this machine, such as ffmpeg. */
  path(area: Area, name: string): string;
  size(area: Area, name: string): Promise<number>;
  /** Bytes `start` to `endInclusive`; the whole file when they are left out. */
  openRange(area: Area, name: string, range?: { start: number; endInclusive: number }): Readable;
  /** Moves a file of this machine in, durable before it returns; refuses to replace what is there (EEXIST). */
  moveIn(from: string, area: Area, name: string): Promise<void>;
  /** Ends a move that was cut off after the file had its name. @returns whether it has: the name may be another file's. */
  finishMove(from: string, area: Area, name: string): Promise<boolean>;
  /** Renames inside an area; whoever reads sees the old state or the new one. */
  rename(area: Area, from: string, to: string): Promise<void>;
  list(area: Area, name: string): Promise<string[]>;
  remove(area: Area, name: string): Promise<void>;
  /** Bytes that can still be written. */
  freeSpace(): Promise<number>;
  /** Throws with words when the media folder is not there or cannot be written. */
  check(): Promise<void>;
}

/** Media in folders under `root`. @throws when a path would leave its area. */
export function openLocalStorage(root: string): Storage {
  const areas: Area[] = ['incoming', 'originals', 'proxies', 'music', 'string-outs'];
  if (!existsSync(join(root, SENTINEL))) {
    mkdirSync(root, { recursive: true });
    writeFileSync(join(root, SENTINEL), 'Rushlight keeps media here. While this file is missing, the folder counts as not mounted.\n');
  }
  for (const area of areas) mkdirSync(join(root, area), { recursive: true });

  const path = (area: Area, name: string): string => {
    const base = join(root, area);
    const full = resolve(base, normalize(name));
    if (full !== base && !full.startsWith(base + sep)) throw new RangeError(`Path leaves its area: ${name}`);
    return full;
  };
  const draftOf = (area: Area, from: string): string => path(area, join(MOVING, basename(from)));
  /** The file has its name; what else it was called goes, the draft last, since by it a cut-off move is known. */
  const endMove = async (from: string, area: Area, to: string): Promise<void> => {
    await sync(dirname(to));
    await rm(from, { force: true });
    await rm(draftOf(area, from), { force: true });
  };
  return {
    path,
    size: async (area, name) => (await stat(path(area, name))).size,
    openRange: (area, name, range) => createReadStream(path(area, name), range && { start: range.start, end: range.endInclusive }),
    async moveIn(from, area, name) {
      const to = path(area, name);
      await mkdir(dirname(to), { recursive: true });
      await sync(from);
      try {
        // A hard link fails when the name is taken, where a rename would replace it.
        await link(from, to);
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== 'EXDEV') throw error;
        await linkCopy(from, draftOf(area, from), to);
      }
      await endMove(from, area, to);
    },
    async finishMove(from, area, name) {
      const to = path(area, name);
      const [there, here, draft] = await Promise.all([identity(to), identity(from), identity(draftOf(area, from))]);
      if (there === null || (here !== null && here !== there && draft !== there)) return false;
      await endMove(from, area, to);
      return true;
    },
    async rename(area, from, to) {
      await mkdir(dirname(path(area, to)), { recursive: true });
      await rename(path(area, from), path(area, to));
      await sync(dirname(path(area, to)));
    },
    list: async (area, name) => (existsSync(path(area, name)) ? readdir(path(area, name)) : []),
    // An encoder whose worker was killed may still write into the folder for a moment (ENOTEMPTY).
    remove: (area, name) => rm(path(area, name), { recursive: true, force: true, maxRetries: 5, retryDelay: 100 }),
    async freeSpace() {
      const { bavail, bsize } = await statfs(root);
      return bavail * bsize;
    },
    async check() {
      await access(join(root, SENTINEL));
      const probe = join(root, 'incoming', '.write-check');
      await (await open(probe, 'w')).close();
      await unlink(probe);
    },
  };
}

/** From another disk: the name is given to a copy that is whole and durable. A copy that was cut off is made again. */
async function linkCopy(from: string, draft: string, to: string): Promise<void> {
  await mkdir(dirname(draft), { recursive: true });
  try {
    await copyFile(from, draft);
    await sync(draft);
    await link(draft, to);
  } catch (error) {
    await rm(draft, { force: true });
    throw error;
  }
}

/** Two names with one identity are one file. @returns null when nothing has the name. */
async function identity(path: string): Promise<string | null> {
  try {
    const { dev, ino } = await stat(path, { bigint: true });
    return `${dev}:${ino}`;
  } catch (error) {
    if (['ENOENT', 'ENOTDIR'].includes((error as NodeJS.ErrnoException).code ?? '')) return null;
    throw error;
  }
}

/** Asks the disk to keep a file or a folder's entries. */
export async function sync(path: string): Promise<void> {
  const handle = await open(path, 'r');
  try {
    await handle.sync();
  } finally {
    await handle.close();
  }
}
