// Several lists may name one file: a list of checksums says its size, a table its timecode. Here they become one original.
import { pathKey } from '#core/card-files.ts';
import type { Listed } from './lists.ts';
import type { Facts } from './rules.ts';

export interface OfList {
  card: string;
  entries: Listed[];
}

/** A camera original as all lists together say it is. `ids` are all it is known by: its whole path, and its bare name. */
export interface Original {
  ids: string[];
  card: string;
  listed: Listed;
}

/** What an original is known by, whichever list names it: its card and its path there. */
export const originalId = (card: string, path: string): string => `${card.normalize('NFC').trim()}/${pathKey(path)}`;

const FIELDS = ['reel', 'rate', 'start', 'length', 'bytes', 'xxh64'] as const;

/** A fact in which two lists contradict each other about one file, or null. A length in seconds contradicts none in frames here. */
function contradiction(a: Listed, b: Listed): (typeof FIELDS)[number] | null {
  return FIELDS.find((field) => a[field] !== null && b[field] !== null && !(field === 'length' && Object.keys(a.length!)[0] !== Object.keys(b.length!)[0]) && JSON.stringify(a[field]) !== JSON.stringify(b[field])) ?? null;
}

function joined(a: Listed, b: Listed): Listed {
  const exact = [a.length, b.length].find((length) => length && 'frames' in length) ?? a.length ?? b.length;
  return { path: a.path, reel: a.reel ?? b.reel, rate: a.rate ?? b.rate, start: a.start ?? b.start, length: exact, bytes: a.bytes ?? b.bytes, xxh64: a.xxh64 ?? b.xxh64 };
}

/**
 * The originals of several lists, in any order of the lists. A bare name means the one file of that name on its card.
 * @returns the originals, and the first file of which two lists say different things.
 */
export function merge(lists: readonly OfList[]): { originals: Original[]; clash: { path: string; fact: string } | null } {
  const all = lists.flatMap(({ card, entries }) => entries.map((listed) => ({ id: originalId(card, listed.path), card, listed })));
  const isBare = (path: string): boolean => !pathKey(path).includes('/');
  const ordered = all.sort((a, b) => Number(isBare(a.listed.path)) - Number(isBare(b.listed.path)) || (a.id < b.id ? -1 : Number(a.id > b.id)));
  const byId = new Map<string, Original>();
  const byName = new Map<string, Original[]>();
  let clash: { path: string; fact: string } | null = null;
  for (const { id, card, listed } of ordered) {
    const named = originalId(card, pathKey(listed.path).split('/').at(-1) ?? '');
    const [only, another] = isBare(listed.path) ? (byName.get(named) ?? []) : [];
    const known = byId.get(id) ?? (another ? undefined : only);
    if (known) {
      const fact = contradiction(known.listed, listed);
      if (fact) clash ??= { path: listed.path, fact };
      known.listed = joined(known.listed, listed);
      if (!known.ids.includes(id)) known.ids.push(id);
      byId.set(id, known);
      continue;
    }
    const original = { ids: [id], card, listed };
    byId.set(id, original);
    byName.set(named, [...(byName.get(named) ?? []), original]);
  }
  return { originals: [...new Set(byId.values())], clash };
}

/** What an original is compared by. */
export function factsOf({ ids, card, listed }: Original): Facts {
  return { id: ids[0]!, name: listed.path.split(/[/\\]/).at(-1)!, card: card || null, reel: listed.reel, rate: listed.rate, start: listed.start, length: listed.length, xxh64: listed.xxh64 };
}
