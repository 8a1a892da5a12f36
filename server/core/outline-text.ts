import { bareNumbersOf, indentOf, Nesting, underlineOf } from './outline-marks.ts';
import { isRule, NOTE_LABELS, readNote, readWords, writeWords, type NoteField, type Role } from './outline-line.ts';
import type { Wish } from './wish.ts';
import type { Rate } from './rate.ts';

/*
 * An outline as text: read from whatever a person pastes, written so that reading gives the same lines again.
 * How lines nest is in outline-marks.ts, what a line says in outline-line.ts. A line with something inside is a part,
 * and so is a line at the top of a film; any other is a slot.
 */

/** A line of a written outline. Lines are in the order of the page, each part before what is in it. */
export interface TextLine {
  /** 0 at the top; at most one more than the line before. */
  readonly depth: number;
  readonly kind: 'part' | 'slot';
  readonly name: string;
  readonly role: Role;
  readonly wish: Wish;
  readonly mustShow: string;
  readonly comesIn: string;
  readonly goesOut: string;
}

/** Something to tell about a text: `at` is the number of a line of it, 1 for the first; null for the whole. */
export interface Remark {
  readonly at: number | null;
  readonly text: string;
}

export interface Reading {
  readonly lines: readonly TextLine[];
  /** What was read in a way that may surprise. */
  readonly remarks: readonly Remark[];
  /** Why it cannot go into the outline as it is; empty when it can. */
  readonly faults: readonly Remark[];
  /** The one line that holds all others, such as the title of the film, by its name; null when there is none. */
  readonly title: string | null;
}

export const TEXT_LIMITS = { lines: 5000, name: 300, words: 2000, levels: 20, characters: 2 * 1024 * 1024 } as const;
/** A line longer than a name, a length and their marks can be is not looked at. */
const LONGEST = TEXT_LIMITS.words + 200;
const FAULTS_TOLD = 20;

type Draft = { -readonly [Field in keyof TextLine]: TextLine[Field] } & { at: number; says: Role | null; notes: Map<NoteField, string[]> };

/**
 * Reads an outline from any text.
 * @param rate of the film that lengths are counted at
 * @param into what the text goes into: at the top of a film every line is a part
 * @param withoutTitle whether to leave out a line that holds all others
 */
export function readOutline(text: string, rate: Rate, { into = 'film', withoutTitle = false }: { into?: 'film' | 'part'; withoutTitle?: boolean } = {}): Reading {
  if (text.length > TEXT_LIMITS.characters)
    return { lines: [], remarks: [], title: null, faults: [{ at: null, text: `The text has ${text.length} characters; at most ${TEXT_LIMITS.characters} can be read at once. Paste it in pieces.` }] };
  const remarks: Remark[] = [];
  const faults: Remark[] = [];
  const rows = cleaned(text, remarks).split('\n');
  const drafts: Draft[] = [];
  const nesting = new Nesting(bareNumbersOf(rows.map((row) => row.trimStart())));

  for (let i = 0; i < rows.length; i++) {
    const at = i + 1;
    const { columns, text: content } = indentOf(rows[i]!.trimEnd());
    if (content === '') continue;
    if (content.length > LONGEST) {
      faults.push({ at, text: `This line has ${content.length} characters; a name has ${TEXT_LIMITS.name} at most. Shorten it, or divide it into lines.` });
      continue;
    }
    if (isRule(content)) {
      remarks.push({ at, text: `“${content.slice(0, 12)}” has no words in it and was left out.` });
      continue;
    }
    const quoted = content.startsWith('>');
    let mark = nesting.markAt(columns, content);
    const words = content.slice(mark.length).trim();
    const last = drafts.at(-1);
    const note = last && readNote(quoted ? content : words);
    if (last && note) {
      last.notes.set(note.field, [...(last.notes.get(note.field) ?? []), note.words]);
      continue;
    }
    const underline = mark.kind === 'none' && columns === 0 ? underlineOf(rows[i + 1]) : 0;
    if (underline) {
      mark = { ...mark, kind: 'heading', heading: underline };
      i++;
    }
    if (words === '') continue;
    const { trouble, ...read } = readWords(words, rate);
    if (trouble) remarks.push({ at, text: trouble });
    if (read.name.length > TEXT_LIMITS.name && [...read.name].length > TEXT_LIMITS.name)
      faults.push({ at, text: `The name in this line has ${[...read.name].length} characters; it can have ${TEXT_LIMITS.name}. Shorten it, or divide it into lines.` });
    const depth = nesting.place(columns, mark);
    if (depth === TEXT_LIMITS.levels) faults.push({ at, text: `This line stands ${depth + 1} levels deep; an outline has ${TEXT_LIMITS.levels} at most.` });
    drafts.push({ ...read, at, depth, kind: 'slot', role: 'body', mustShow: '', comesIn: '', goesOut: '', notes: new Map() });
  }
  const title = drafts.length > 1 && drafts.every(({ depth }, i) => depth > 0 === i > 0) ? drafts[0]!.name : null;
  if (withoutTitle && title !== null) {
    drafts.shift();
    for (const draft of drafts) draft.depth--;
  }
  if (drafts.length > TEXT_LIMITS.lines) faults.push({ at: null, text: `The text has ${drafts.length} lines; at most ${TEXT_LIMITS.lines} can go in at once. Paste it in pieces.` });
  const lines = drafts.map((draft, i) => finished(draft, (drafts[i + 1]?.depth ?? 0) > draft.depth, into, remarks, faults));
  remarks.sort((a, b) => (a.at ?? 0) - (b.at ?? 0));
  return { lines, remarks, faults: faults.slice(0, FAULTS_TOLD), title };
}

/**
 * Writes an outline so that `readOutline` gives the same lines again; "text" is indented by tabs, "markdown" has a
 * heading for each sequence and lists in it. Control characters of names become spaces, and white space around names
 * and around the lines of notes is not kept.
 */
export function writeOutline(lines: readonly TextLine[], form: 'text' | 'markdown', rate: Rate): string {
  const written = lines.flatMap((line, i) => {
    const leaf = (lines[i + 1]?.depth ?? 0) <= line.depth;
    const name = line.name.replaceAll(/\p{Cc}/gu, ' ').trim();
    const mustSay = line.kind === 'part' && ((leaf && line.depth > 0) || line.role !== roleByName(name, line.depth));
    const words = writeWords({ name, wish: line.wish, says: mustSay ? line.role : null }, rate, form);
    const [first, below] = form === 'text' ? ['\t'.repeat(line.depth), '\t'.repeat(line.depth + 1)] : line.depth === 0 ? ['# ', '> '] : [`${'  '.repeat(line.depth - 1)}- `, `${'  '.repeat(line.depth)}> `];
    const notes = NOTE_LABELS.flatMap(([field, label]) => (line[field] === '' ? [] : line[field].split('\n').map((row) => `${below}${label}: ${row.trim()}`.trimEnd())));
    const gap = form === 'markdown' && line.depth === 0;
    return [...(gap && i > 0 ? [''] : []), first + words, ...notes, ...(gap ? [''] : [])];
  });
  return written.length > 0 ? `${written.join('\n').trimEnd().replaceAll(/\n{3,}/g, '\n\n')}\n` : '';
}

/** A sequence that begins with the word opens or closes the film. */
function roleByName(name: string, depth: number): Role {
  const word = depth === 0 ? /^(opening|closing)\b/i.exec(name)?.[1]?.toLowerCase() : undefined;
  return (word as Role | undefined) ?? 'body';
}

function finished({ at, says, notes, ...line }: Draft, holds: boolean, into: 'film' | 'part', remarks: Remark[], faults: Remark[]): TextLine {
  const top = into === 'film' && line.depth === 0;
  line.kind = holds || top || says !== null ? 'part' : 'slot';
  line.role = says ?? (top ? roleByName(line.name, 0) : 'body');
  for (const [field, rows] of notes) {
    line[field] = rows.join('\n');
    if ([...line[field]].length > TEXT_LIMITS.words) faults.push({ at, text: `What is said below this line has more than ${TEXT_LIMITS.words} characters.` });
  }
  if (line.kind === 'part' && !holds && !top) remarks.push({ at, text: `${line.name || 'This line'} is a part with nothing in it.` });
  return line;
}

/** Line ends made one, and what no outline can hold taken out. Text from right to left, and the marks that steer it, stay. */
function cleaned(text: string, remarks: Remark[]): string {
  const unified = text.toWellFormed().replaceAll(/\r\n?|\v|\f|\u0085|\u2028|\u2029/g, '\n').replaceAll('\uFEFF', '');
  const kept = unified.replaceAll(/(?![\t\n])\p{Cc}/gu, '');
  const gone = unified.length - kept.length;
  if (gone > 0) remarks.push({ at: null, text: gone === 1 ? 'A control character was taken out.' : `${gone} control characters were taken out.` });
  return kept;
}
