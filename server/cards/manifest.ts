// Reading lists of files and checksums that were made at the source. They come from outside, so nothing of them is
// believed: size, number, paths, duplicates and checksums are looked at before anything is kept.
import { Refusal, type ErrorCode } from '../platform/errors.ts';
import { readMhl } from './manifest-mhl.ts';
import { readList } from './manifest-list.ts';
import type { Kind } from './sums.ts';

/** A list of a hundred thousand files is about as long. */
export const MANIFEST_BYTES = 16 * 1024 * 1024;
const ENTRIES = 100_000;
const PATH_CHARACTERS = 4096;

/** A checksum of a list; several kinds when its length alone cannot tell them apart. */
export interface ListedSum {
  kinds: Kind[];
  value: string;
}

export interface Entry {
  path: string;
  bytes: number | null;
  sums: ListedSum[];
  /** Where the file lay in an earlier generation of the same history. */
  previousPath?: string;
}

export interface ReadManifest {
  format: 'ascmhl' | 'list';
  /** When it was made, where it says so. */
  madeAt: Date | null;
  /** Patterns of what its maker left out on purpose. */
  ignores: string[];
  entries: Entry[];
}

/** What is wrong with a list, and where. */
export function fault(code: ErrorCode, line: number | null, why: string): Refusal {
  return new Refusal(code, line === null ? why : `Line ${line}: ${why}`, { fields: [{ field: line === null ? 'list' : `line ${line}`, why }] });
}

/**
 * Reads ASC MHL or a plain list as xxhsum, md5sum and the like write them.
 * @throws Refusal `too-large`, `manifest-unknown`, `manifest-damaged`, `manifest-path`, `manifest-duplicate`,
 *   `refused-format` for XML that declares entities.
 */
export function readManifest(bytes: Uint8Array): ReadManifest {
  if (bytes.byteLength > MANIFEST_BYTES) throw new Refusal('too-large', `A list may have ${MANIFEST_BYTES} bytes; this one has ${bytes.byteLength}.`);
  const text = decode(bytes);
  const manifest = /^\s*</.test(text) ? readMhl(text) : readList(text);
  if (manifest.entries.length === 0) throw new Refusal('manifest-damaged', 'The list names no file.');
  return manifest;
}

function decode(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new Refusal('manifest-unknown', 'The list is not text in UTF-8.');
  }
}

/** Gathers the entries of a list and refuses what no honest list holds. */
export class Entries {
  readonly #byPath = new Map<string, Entry>();
  readonly #strict: boolean;

  /** @param strict no path may stand twice; otherwise it may, with the same checksum or one of another kind. */
  constructor({ strict }: { strict: boolean }) {
    this.#strict = strict;
  }

  add(entry: Entry, line: number | null): void {
    checkPath(entry.path, line);
    if (entry.previousPath !== undefined) checkPath(entry.previousPath, line);
    const before = this.#byPath.get(entry.path);
    if (!before) {
      if (this.#byPath.size >= ENTRIES) throw new Refusal('too-large', `A list may name ${ENTRIES} files.`);
      this.#byPath.set(entry.path, entry);
      return;
    }
    if (this.#strict) throw fault('manifest-duplicate', line, `"${entry.path}" stands in the list twice.`);
    for (const sum of entry.sums) {
      const same = before.sums.find(({ kinds }) => kinds.join() === sum.kinds.join());
      if (same && same.value !== sum.value) throw fault('manifest-duplicate', line, `"${entry.path}" stands in the list twice, with two checksums.`);
      if (!same) before.sums.push(sum);
    }
  }

  get size(): number {
    return this.#byPath.size;
  }

  list(): Entry[] {
    return [...this.#byPath.values()];
  }
}

/** Paths stay inside the card: relative, without steps up, without what no file system takes. */
function checkPath(path: string, line: number | null): void {
  const names = path.split(/[/\\]/);
  if (path === '' || path.length > PATH_CHARACTERS || path.includes('\0')) throw fault('manifest-path', line, 'the path is empty or longer than any file system takes.');
  if (/^([/\\]|[A-Za-z]:[/\\])/.test(path)) throw fault('manifest-path', line, `"${path}" begins at the root of a disk; a list of a card is relative to it.`);
  if (names.includes('..')) throw fault('manifest-path', line, `"${path}" leads out of the card.`);
}
