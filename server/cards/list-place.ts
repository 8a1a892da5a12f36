// Where a list's paths start. A list is made in the card, in the folder the card lies in, or in a folder of the card;
// the sender names files from the folder that was dropped. Whoever is right, both speak of the same files.
import { pathKey } from '#core/card-files.ts';
import type { Entry } from './manifest.ts';

const FOLDERS_TRIED = 50;
const ENTRIES_TRIED = 2000;

/** How paths of a list are read: without their first folder, and with another before them. */
export interface Root {
  without: string;
  before: string;
}

/** The way of reading a list under which most of its paths are files of the card; as it stands when none is better. */
export function rootOf(entries: readonly Entry[], paths: readonly string[]): Root {
  const here = new Set(paths.map(pathKey));
  const some = entries.slice(0, ENTRIES_TRIED).map(({ path }) => pathKey(path));
  const own = commonFirst(some);
  const befores = ['', ...new Set([...here].filter((path) => path.includes('/')).map((path) => `${path.split('/')[0]}/`))].slice(0, FOLDERS_TRIED);
  const ways: Root[] = ['', ...(own ? [own] : [])].flatMap((without) => befores.map((before) => ({ without, before })));
  const hits = (way: Root) => some.filter((path) => here.has(applied(path, way))).length;
  return ways.map((way) => ({ way, hits: hits(way) })).reduce((best, other) => (other.hits > best.hits ? other : best)).way;
}

/** An entry as a file of the card. */
export function placed(entry: Entry, way: Root): Entry {
  return { ...entry, path: applied(entry.path, way), ...(entry.previousPath === undefined ? {} : { previousPath: applied(entry.previousPath, way) }) };
}

function applied(path: string, { without, before }: Root): string {
  return before + (without && path.startsWith(without) ? path.slice(without.length) : path);
}

function commonFirst(paths: readonly string[]): string | null {
  const first = paths[0]?.includes('/') ? `${paths[0].split('/')[0]}/` : null;
  return first !== null && paths.every((path) => path.startsWith(first)) ? first : null;
}

/** Whether a pattern of an ASC MHL ignore list covers a path (5.5: as .gitignore writes them; here names, folders, `*` and `?`). */
export function leftOut(path: string, patterns: readonly string[]): boolean {
  const names = path.split('/');
  return patterns.some((pattern) => {
    const folder = pattern.endsWith('/');
    const plain = pattern.replace(/^\/|\/$/g, '');
    if (plain === '') return false;
    const shape = new RegExp(`^${plain.replace(/[.+^${}()|[\]\\]/g, '\\$&').replaceAll('*', '[^/]*').replaceAll('?', '[^/]')}$`);
    if (plain.includes('/')) return names.some((_, n) => names.some((__, m) => m > n && shape.test(names.slice(n, m).join('/'))) || shape.test(names.slice(n).join('/')));
    return names.slice(0, folder ? -1 : undefined).some((name) => shape.test(name));
  });
}
