// The files of a folder, and which of them stand still. A file is: seen -> still (size and time unchanged for long
// enough) -> taken; one that changes after that is seen again.
import { readdir, lstat } from 'node:fs/promises';
import { basename, join, resolve } from 'node:path';
import { isSystemFile } from '#core/card-files.ts';
import { Stop } from './options.ts';

export interface Found {
  /** Where it is on this machine. */
  file: string;
  /** With `/`, from the folder that is sent, its name included. */
  path: string;
  size: number;
  mtimeMs: number;
}

export interface Walked {
  files: Found[];
  /** What is not sent: the operating system's own, links, devices. */
  leftOut: string[];
}

/** Walks a folder, in the order of paths. @throws Stop 5 when it, or a folder in it, cannot be read. */
export async function walk(folder: string): Promise<Walked> {
  const walked: Walked = { files: [], leftOut: [] };
  const root = resolve(folder);
  await into(root, basename(root) || 'card', walked);
  walked.files.sort((a, b) => (a.path < b.path ? -1 : 1));
  return walked;
}

async function into(dir: string, path: string, walked: Walked): Promise<void> {
  const inside = await readdir(dir, { withFileTypes: true }).catch((error: Error) => {
    throw new Stop(5, `${dir} cannot be read: ${error.message}`);
  });
  for (const entry of inside) {
    const [file, under] = [join(dir, entry.name), `${path}/${entry.name}`];
    // The folder's own name may be anything; what stands in it decides.
    if (isSystemFile(under.slice(under.indexOf('/') + 1) + (entry.isDirectory() ? '/x' : ''))) walked.leftOut.push(under);
    else if (entry.isDirectory()) await into(file, under, walked);
    else if (entry.isFile()) {
      const stat = await lstat(file).catch(() => null);
      if (stat) walked.files.push({ file, path: under, size: stat.size, mtimeMs: stat.mtimeMs });
    } else walked.leftOut.push(under);
  }
}

/** The file as it is now, or null when it is gone. */
export async function look({ file, path }: Found): Promise<Found | null> {
  const stat = await lstat(file).catch(() => null);
  return stat && { file, path, size: stat.size, mtimeMs: stat.mtimeMs };
}

export const isSame = (a: Found, b: Found | null): boolean => b !== null && a.size === b.size && a.mtimeMs === b.mtimeMs;

/** Tells which files have stood still, by looking again and again. */
export class Standing {
  readonly #stillMs: number;
  readonly #since = new Map<string, { found: Found; at: number }>();
  /** When anything last changed. */
  changedAt: number;

  constructor(stillMs: number, now: number) {
    this.#stillMs = stillMs;
    this.changedAt = now;
  }

  /** Takes a new look. @returns the files that have stood still for long enough. */
  look(files: readonly Found[], now: number): Found[] {
    const names = new Set(files.map(({ path }) => path));
    for (const path of this.#since.keys()) {
      if (names.has(path)) continue;
      this.#since.delete(path);
      this.changedAt = now;
    }
    return files.filter((found) => {
      const before = this.#since.get(found.path);
      if (before && isSame(before.found, found)) return now - before.at >= this.#stillMs;
      this.#since.set(found.path, { found, at: now });
      this.changedAt = now;
      return this.#stillMs === 0;
    });
  }
}
