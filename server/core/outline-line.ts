import { OPEN, parseWish, wishText, type Wish } from './wish.ts';
import { looksMarked } from './outline-marks.ts';
import type { Rate } from './rate.ts';
import { TimecodeError } from './timecode.ts';

/*
 * The words of one line of a written outline: `[role] name (length)`, role and length where there are any.
 * - The length is the last thing on the line, in brackets or not, after a colon, a dash or a row of dots if wished.
 *   `[no length]` says that what looks like one is part of the name.
 * - `[opening]`, `[closing]` and `[part]` in front say what the line is, where its first word and its place do not.
 * - A name that would be read as something else stands in backquotes, which keep text as it is (CommonMark 0.31.2,
 *   6.1); `[no name]` is a line without one.
 */

export type Role = 'opening' | 'body' | 'closing';

export interface LineWords {
  readonly name: string;
  readonly wish: Wish;
  /** What the line says it is: a role makes it a part. Null when it says nothing. */
  readonly says: Role | null;
  /** What looks like a length and is none, as the reason to tell. */
  readonly trouble: string | null;
}

const SAYS: Record<string, Role> = { '[opening]': 'opening', '[closing]': 'closing', '[part]': 'body' };
const NO_NAME = '[no name]';
const NO_LENGTH = '[no length]';

const ONE = String.raw`(?:\d{1,3}:\d{2}(?::\d{2})?(?:\.\d{1,3})?|\d{1,5} ?(?:s|secs?|seconds?|min|minutes?|f|frames?)|\d{1,5}(?:\.\d+)?["″])`;
const LENGTH = String.raw`(?:${ONE}(?: ?[-–—] ?${ONE})?|\d{1,5}[-–—]${ONE}|\d{1,3}(?:[.,]\d{1,2})? ?%)`;
const AT_END = new RegExp(String.raw`(?:^|\s|(?=[([]))(?:\(\s?(${LENGTH})\s?\)|\[\s?(${LENGTH})\s?\]|(${LENGTH}))$`, 'i');
/** Longer than any length with its brackets; a long line is not searched from its beginning. */
const TAIL = 64;
const LEADER = /(?:\s(?:[-–—:·|,;]|\.{2,}|…)|[:,;]|\.{4,}|_{3,})$/;
const WRAPPED = /^(\*\*|__|\*|_)(?=[^\s*_])([^*_]*[^\s*_])\1$/;

/** Reads the words of a line, without its mark. */
export function readWords(text: string, rate: Rate): LineWords {
  let rest = text.trim().replace(/^\[[ xX]\]\s+/, '');
  const said = /^\[\w+\]/.exec(rest)?.[0].toLowerCase() ?? '';
  const says = SAYS[said] ?? null;
  if (says) rest = rest.slice(said.length).trim();
  const kept = readKept(rest);
  if (kept) {
    const { wish, before, trouble } = readLength(kept.after, rate);
    if (before === '' && !trouble) return { name: kept.name, wish, says, trouble: null };
  }
  const { before, wish, trouble } = readLength(rest, rate);
  const name = WRAPPED.exec(before)?.[2] ?? before;
  return { name: name.toLowerCase() === NO_NAME ? '' : name, wish, says, trouble };
}

/** Writes the words of a line so that `readWords` gives them back. `says` where the line has to say what it is. */
export function writeWords({ name, wish, says }: Omit<LineWords, 'trouble'>, rate: Rate, form: 'text' | 'markdown'): string {
  const mark = says ? `${Object.keys(SAYS).find((key) => SAYS[key] === says)} ` : '';
  const length = wishText(wish, rate);
  const end = length ? ` (${length})` : '';
  if (name === '') return `${mark}${NO_NAME}${end}`;
  const hasMarkup = form === 'markdown' && /[\\`*_<>[\]&~|#$]/.test(name);
  for (const candidate of hasMarkup ? [] : [`${name}${end}`, `${name}${end || ` ${NO_LENGTH}`}`]) {
    if (looksMarked(candidate) || isRule(candidate) || readNote(candidate)) continue;
    const back = readWords(mark + candidate, rate);
    if (back.name === name && back.says === says && sameWish(back.wish, wish) && !back.trouble) return mark + candidate;
  }
  return `${mark}${keep(name)}${end}`;
}

/** Whether a line is only there to be looked at, such as a row of dashes. */
export const isRule = (text: string): boolean => /^[-=_*~#.·•–—+|\s]+$/.test(text);

export type NoteField = 'mustShow' | 'comesIn' | 'goesOut';
/** How a line begins that says something of the line above it. */
export const NOTE_LABELS: readonly (readonly [NoteField, string])[] = [
  ['mustShow', 'Must show'],
  ['comesIn', 'Comes in'],
  ['goesOut', 'Goes out'],
];

/** Reads "Must show: …", "Comes in: …", "Goes out: …", in a block quote or not; of a quote without a label, what must be shown. Null for any other line. */
export function readNote(text: string): { field: NoteField; words: string } | null {
  const quoted = text.startsWith('>');
  const words = quoted ? text.slice(1).trim() : text;
  const label = NOTE_LABELS.find(([, label]) => words.slice(0, label.length + 1).toLowerCase() === `${label.toLowerCase()}:`);
  if (label) return { field: label[0], words: words.slice(label[1].length + 1).trim() };
  return quoted ? { field: 'mustShow', words } : null;
}

function sameWish(a: Wish, b: Wish): boolean {
  return JSON.stringify(Object.entries(a).sort()) === JSON.stringify(Object.entries(b).sort());
}

function readLength(text: string, rate: Rate): { before: string; wish: Wish; trouble: string | null } {
  if (text.toLowerCase().endsWith(NO_LENGTH)) return { before: text.slice(0, -NO_LENGTH.length).trimEnd(), wish: OPEN, trouble: null };
  const from = Math.max(0, text.length - TAIL);
  const found = AT_END.exec(text.slice(from));
  // What stands at the cut may have its beginning before it.
  if (!found || (from > 0 && found.index === 0)) return { before: text, wish: OPEN, trouble: null };
  const written = (found[1] ?? found[2] ?? found[3]) as string;
  try {
    const wish = parseWish(plainly(written), rate);
    const before = text.slice(0, from + found.index).trimEnd();
    return { before: before.replace(LEADER, '').trimEnd(), wish, trouble: null };
  } catch (error) {
    if (!(error instanceof TimecodeError)) throw error;
    return { before: text, wish: OPEN, trouble: `“${written}” was left in the name: ${error.message}` };
  }
}

/** A length in the forms that `parseWish` knows. */
function plainly(written: string): string {
  return written
    .replace(/(\d+) ?min(?:utes?)?/gi, '$1:00')
    .replace(/(\d) ?(?:seconds?|secs?|["″])/gi, '$1s')
    .replace(/(\d) ?frames?/gi, '$1f');
}

/** A name in backquotes at the beginning of a line, and what follows it. */
function readKept(text: string): { name: string; after: string } | null {
  const fence = /^`+/.exec(text)?.[0];
  if (!fence) return null;
  for (const { 0: run, index } of text.slice(fence.length).matchAll(/`+/g)) {
    if (run.length !== fence.length) continue;
    const inner = text.slice(fence.length, fence.length + index);
    const padded = inner.startsWith(' ') && inner.endsWith(' ') && inner.trim() !== '';
    return { name: padded ? inner.slice(1, -1) : inner, after: text.slice(fence.length * 2 + index).trim() };
  }
  return null;
}

function keep(name: string): string {
  const longest = Math.max(0, ...Array.from(name.matchAll(/`+/g), ([run]) => run.length));
  const fence = '`'.repeat(longest + 1);
  const pad = name.startsWith('`') || name.endsWith('`') ? ' ' : '';
  return fence + pad + name + pad + fence;
}
