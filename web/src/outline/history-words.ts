import type { Item, PastMoment } from '#contract/outline';
import type { Difference } from '#core/outline-history.ts';
import { outlineOrder } from '#core/outline.ts';
import { lengthText, wishText } from '#core/wish.ts';
import type { Rate } from '#core/rate.ts';

const COUNTED: readonly (readonly [keyof PastMoment['counts'], string])[] = [
  ['added', 'added'],
  ['removed', 'removed'],
  ['renamed', 'renamed'],
  ['moved', 'moved'],
  ['length', 'changed the length of'],
  ['role', 'changed the role of'],
  ['words', 'wrote words for'],
];

/** What was done in a moment: "added 12 lines, renamed 1 (Boots, Bell …)". */
export function momentWords({ counts, names }: PastMoment): string {
  const done = COUNTED.filter(([what]) => counts[what] > 0).map(([what, words], i) => `${words} ${counts[what]}${i === 0 ? (counts[what] === 1 ? ' line' : ' lines') : ''}`);
  if (done.length === 0) return 'left it as it was';
  return `${done.join(', ')}${names.length > 0 ? ` (${names.join(', ')}${Object.values(counts).reduce((a, b) => a + b) > names.length ? ' …' : ''})` : ''}`;
}

/** What became of each line between two states, in the order of the page; removed lines first. */
export function differenceWords(differences: readonly Difference<Item>[], before: readonly Item[], after: readonly Item[], rate: Rate): string[] {
  const lines = outlineOrder(after);
  const at = new Map(lines.map(({ row }, i) => [row.id, i]));
  const names = new Map([...before, ...after].map((row) => [row.id, called(row)]));
  const partOf = ({ parentId }: Item): string => (parentId === null ? 'the film' : (names.get(parentId) ?? 'a part that is gone'));
  const place = (row: Item): string => {
    const line = lines[at.get(row.id) ?? -1];
    const siblings = line?.parent?.children ?? lines.filter(({ depth }) => depth === 0);
    const above = line && siblings[siblings.indexOf(line) - 1];
    return `in ${partOf(row)}, ${above ? `after ${called(above.row)}` : 'first'}`;
  };
  const length = (row: Item): string => `${wishText(row.wish, rate) || 'none'}${row.fitted === null ? '' : `, fitted to ${lengthText(row.fitted, rate)}`}`;
  const words = (one: Difference<Item>): string => {
    const name = called(one.row);
    if (one.what === 'added') return `Added: ${name}, ${place(one.row)}.`;
    if (one.what === 'removed') return `Removed: ${name}, from ${partOf(one.row)}.`;
    if (one.what === 'renamed') return `Renamed: ${called(one.was)}, now ${name}.`;
    if (one.what === 'moved') return `Moved: ${name}, from ${partOf(one.was)}, now ${place(one.row)}.`;
    if (one.what === 'length') return `Length: ${name}, from ${length(one.was)} to ${length(one.row)}.`;
    if (one.what === 'role') return `Role: ${name}, from ${one.was.role} to ${one.row.role}.`;
    return `Words: ${name}, what it must show or how it comes in and goes out.`;
  };
  return differences.toSorted((a, b) => (at.get(a.row.id) ?? -1) - (at.get(b.row.id) ?? -1)).map(words);
}

const called = ({ name, kind }: Item): string => (name.trim() ? `“${name.trim()}”` : kind === 'slot' ? 'a slot without a name' : 'a part without a name');
