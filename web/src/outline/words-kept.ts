import type { ItemChange } from '#contract/outline';
import { TEXT_LIMITS } from '#core/outline-text.ts';
import type { Change } from './pending.ts';

export const WORDS = ['name', 'mustShow', 'comesIn', 'goesOut'] as const;

/** The words among the fields of a change. */
export function wordsIn(change: ItemChange): NonNullable<ItemChange['was']> {
  return Object.fromEntries(WORDS.flatMap((field) => (change[field] === undefined ? [] : [[field, change[field]]])));
}

/** What was written in a change; empty for one that writes nothing. */
export function writtenIn(change: Change): string {
  if (change.what === 'make') return [change.name, change.mustShow].filter(Boolean).join(' / ');
  return change.what === 'change' ? Object.values(wordsIn(change.change)).filter(Boolean).join(' / ') : '';
}

/** Words as lines that hold all of them, however long: what is too long for a name stands in what the slot must show. */
export function linesFor(words: string): { name: string; mustShow?: string }[] {
  const signs = [...words];
  if (signs.length <= TEXT_LIMITS.name) return [{ name: words }];
  const pieces = Array.from({ length: Math.ceil(signs.length / TEXT_LIMITS.words) }, (_, i) => signs.slice(i * TEXT_LIMITS.words, (i + 1) * TEXT_LIMITS.words));
  return pieces.map((piece) => ({ name: piece.slice(0, TEXT_LIMITS.name).join('').replaceAll(/\s+/g, ' '), mustShow: piece.join('') }));
}
