/*
 * What stands before the words of a line: the indent, and a bullet, a number, a letter or a Markdown heading. Which
 * line is inside which follows from it:
 * - a heading holds everything down to the next heading of its level or above;
 * - below that, a line is inside the nearest line above it that is indented less;
 * - at one indent, the first kind of mark holds the kinds that come after it ("1." holds "a)" holds "-"), and a line
 *   without a mark stands beside the first of them;
 * - "2.3.1" is inside "2.3" whatever the indent.
 * Bullets, list numbers and headings: CommonMark 0.31.2, 4.2 and 5.2 (https://spec.commonmark.org/0.31.2/); letters,
 * Roman numbers, "2.3.1" and the other bullets are common practice in text documents, no source.
 */

/** A tab reaches to the next column of four (CommonMark 0.31.2, 2.2). */
const TAB_COLUMNS = 4;
const ROUND_BULLETS = '•‣◦▪▫●○■□⁃∙';
const BULLET = new RegExp(`^(?:[-*+–—·](?:\\s+|$)|[-–—](?=\\p{L})|[${ROUND_BULLETS}]\\s*)`, 'u');
const HEADING = /^(#{1,6})(?:\s+|$)/;
const DECIMAL = /^\(?(\d{1,3})(?:[.:)]{1,2}(?:\s+|$|(?=\p{L}))|\)(?:\s+|$))/u;
const DEEP_DECIMAL = /^\(?(\d{1,3}(?:\.\d{1,3})+)[.:)]{0,2}(?:\s+|$)/;
const BARE_NUMBER = /^(\d{1,3})\s+/;
const LETTERS = /^(\(?)([A-Za-z]|[ivxlc]{2,8}|[IVXLC]{2,8})([.)])\s+/;

/** A mark that was read: its kind, its count where it has one, and how many characters it takes. */
export interface Mark {
  readonly kind: string;
  /** Heading level, 0 for everything else. */
  readonly heading: number;
  /** Which one of its kind: 2 for "b)". 0 where marks are not counted. */
  readonly ordinal: number;
  /** "2.3" for that number, otherwise empty. */
  readonly number: string;
  readonly length: number;
}

const NONE: Mark = { kind: 'none', heading: 0, ordinal: 0, number: '', length: 0 };

/** Width of the white space in front of a line, in columns, and the rest of the line. */
export function indentOf(line: string): { columns: number; text: string } {
  const text = line.trimStart();
  let columns = 0;
  for (const space of line.slice(0, line.length - text.length)) columns += space === '\t' ? TAB_COLUMNS - (columns % TAB_COLUMNS) : 1;
  return { columns, text };
}

/** Whether a text could be taken for one with a mark before it, wherever it stands. */
export const looksMarked = (text: string): boolean => [BULLET, HEADING, DECIMAL, DEEP_DECIMAL, LETTERS].some((mark) => mark.test(text));

/** First numbers of the "1.1", "1.2" of a text: where there are such, "1 Opening" is numbered too. */
export function bareNumbersOf(texts: readonly string[]): ReadonlySet<string> {
  return new Set(texts.flatMap((text) => DEEP_DECIMAL.exec(text)?.[1]?.split('.')[0] ?? []));
}

/** Level of the heading that the line below makes of a line (CommonMark 0.31.2, 4.3); 0 when it makes none. */
export function underlineOf(below: string | undefined): 0 | 1 | 2 {
  const rule = below?.trim() ?? '';
  return /^={3,}$/.test(rule) ? 1 : /^-{3,}$/.test(rule) ? 2 : 0;
}

interface Open {
  readonly columns: number;
  readonly mark: Mark;
}

/** Goes through the lines of a text from top to bottom and says how deep each stands. */
export class Nesting {
  readonly #open: Open[] = [];
  readonly #bareNumbers: ReadonlySet<string>;

  constructor(bareNumbers: ReadonlySet<string>) {
    this.#bareNumbers = bareNumbers;
  }

  /** The mark of a line where it stands now. `text` begins after the indent. */
  markAt(columns: number, text: string): Mark {
    const heading = HEADING.exec(text);
    if (heading) {
      const number = DEEP_DECIMAL.exec(text.slice(heading[0].length)) ?? DECIMAL.exec(text.slice(heading[0].length));
      return { kind: 'heading', heading: heading[1]!.length, ordinal: 0, number: '', length: heading[0].length + (number?.[0].length ?? 0) };
    }
    const bullet = BULLET.exec(text);
    if (bullet) return { ...NONE, kind: bullet[0].trim(), length: bullet[0].length };
    const deep = DEEP_DECIMAL.exec(text);
    if (deep) return { ...NONE, kind: `number ${deep[1]!.split('.').length}`, number: deep[1]!, length: deep[0].length };
    const plain = DECIMAL.exec(text) ?? (this.#bareNumbers.has(BARE_NUMBER.exec(text)?.[1] ?? '') ? BARE_NUMBER.exec(text) : null);
    if (plain) return { ...NONE, kind: 'number 1', number: plain[1]!, length: plain[0].length };
    return this.#lettered(columns, text) ?? NONE;
  }

  /** Puts a line with this mark at its place and answers its depth, 0 at the top. */
  place(columns: number, mark: Mark): number {
    const open = this.#open;
    const parent = mark.number.includes('.') ? open.findLastIndex((one) => one.mark.number === mark.number.slice(0, mark.number.lastIndexOf('.'))) : -1;
    if (mark.heading > 0) this.#closeTo(open.findIndex((one) => one.mark.heading === 0 || one.mark.heading >= mark.heading));
    else if (parent >= 0) this.#closeTo(parent + 1);
    else {
      this.#closeTo(open.findIndex((one) => one.mark.heading === 0 && one.columns > columns));
      this.#closeTo(open.findIndex((one) => one.mark.heading === 0 && one.columns === columns && (mark.kind === 'none' || isBeside(one.mark, mark))));
    }
    open.push({ columns, mark });
    return open.length - 1;
  }

  #closeTo(length: number): void {
    if (length >= 0) this.#open.length = length;
  }

  /** A letter counts as a mark where it begins a list or goes on with one, so that "v. slow" keeps its "v". */
  #lettered(columns: number, text: string): Mark | null {
    const found = LETTERS.exec(text);
    if (!found) return null;
    const [whole, before, letters, after] = found as unknown as [string, string, string, string];
    const readings = [
      { kind: `letter ${before}${after} ${letters < 'a'}`, ordinal: letters.length === 1 ? letters.toLowerCase().charCodeAt(0) - 96 : 0 },
      { kind: `roman ${before}${after} ${letters < 'a'}`, ordinal: fromRoman(letters.toLowerCase()) },
    ].filter(({ ordinal }) => ordinal > 0);
    const last = (kind: string) => this.#open.findLast((one) => one.mark.kind === kind && one.columns === columns)?.mark.ordinal ?? 0;
    const reading = readings.find(({ kind, ordinal }) => ordinal > 1 && ordinal === last(kind) + 1) ?? readings.find(({ ordinal }) => ordinal === 1);
    return reading ? { ...NONE, ...reading, length: whole.length } : null;
  }
}

/** Numbers of fewer or as many places close those of more: "1.2" stands beside "1.1", whatever was inside that. */
function isBeside(open: Mark, mark: Mark): boolean {
  return open.kind === mark.kind || (open.number !== '' && mark.number !== '' && open.number.split('.').length > mark.number.split('.').length);
}

const ROMAN: Record<string, number> = { i: 1, v: 5, x: 10, l: 50, c: 100 };

/** The value of a well-formed Roman number up to 399; 0 for anything else. */
function fromRoman(text: string): number {
  if (!/^c{0,3}(xc|xl|l?x{0,3})(ix|iv|v?i{0,3})$/.test(text)) return 0;
  const values = Array.from(text, (letter) => ROMAN[letter] ?? 0);
  return values.reduce((sum, value, i) => sum + (value < (values[i + 1] ?? 0) ? -value : value), 0);
}
