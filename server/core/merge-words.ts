/*
 * Two people wrote in one text at once. Nothing that either typed is lost: where they wrote in different places both
 * changes are made, where they wrote over each other both texts stay, with a stroke between them.
 */

/** What comes of `base` when one person made `theirs` of it and another `mine`, word by word. */
export function mergeWords(base: string, theirs: string, mine: string): string {
  if (theirs === base || theirs === mine) return mine;
  if (mine === base) return theirs;
  const words = wordsOf(base);
  const [first, second] = [changeOf(words, wordsOf(theirs)), changeOf(words, wordsOf(mine))];
  // Each change takes the place of the words of `base` from `from` to `to`.
  const [early, late] = first.from <= second.from ? [first, second] : [second, first];
  const bothInsert = early.to === early.from && late.to === late.from;
  if (early.to > late.from || (early.from === late.from && !bothInsert)) return `${theirs} / ${mine}`;
  const merged = [...words.slice(0, early.from), ...early.by, ...words.slice(early.to, late.from), ...late.by, ...words.slice(late.to)];
  return merged.join(' ').replaceAll(/ ?\n ?/g, '\n');
}

/** Words and line ends; where texts are merged, white space between words becomes one space. */
const wordsOf = (text: string): string[] => text.match(/\n|\S+/g) ?? [];

/** The one stretch of `base` that `text` has something else for. */
function changeOf(base: readonly string[], text: readonly string[]): { from: number; to: number; by: readonly string[] } {
  const most = Math.min(base.length, text.length);
  let from = 0;
  while (from < most && base[from] === text[from]) from++;
  let same = 0;
  while (same < most - from && base[base.length - 1 - same] === text[text.length - 1 - same]) same++;
  return { from, to: base.length - same, by: text.slice(from, text.length - same) };
}
