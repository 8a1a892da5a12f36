import { Refusal } from '../platform/errors.ts';

const FIELD_CHARACTERS = 4096;
const ROWS = 100_000;

export const damaged = (line: number, why: string): Refusal => new Refusal('manifest-damaged', `Line ${line}: ${why}`, { fields: [{ field: `line ${line}`, why }] });

/**
 * Reads comma-separated values (RFC 4180, also with LF alone). @returns rows with the line each begins on.
 * @throws Refusal `manifest-damaged` for quotes that do not close or stand inside a bare field, and for a field that is
 *   too long; `too-large` for too many rows.
 */
export function readCsv(text: string): { line: number; fields: string[] }[] {
  const rows: { line: number; fields: string[] }[] = [];
  const token = /("[^"]*(?:""[^"]*)*"|[^",\r\n]*)(,|\r\n|\n|$)/y;
  let fields: string[] = [];
  let [line, begins] = [1, 1];
  while (token.lastIndex < text.length || fields.length > 0) {
    const found = token.exec(text);
    if (!found) throw damaged(line, 'a quotation mark does not close, or stands inside a field that does not begin with one (RFC 4180).');
    const [whole, raw = '', end] = found;
    if (raw.length > FIELD_CHARACTERS) throw damaged(line, `a field is longer than ${FIELD_CHARACTERS} characters.`);
    fields.push(raw.startsWith('"') ? raw.slice(1, -1).replaceAll('""', '"') : raw.trim());
    line += whole.split('\n').length - 1;
    if (end === ',') continue;
    if (fields.some((field) => field !== '')) rows.push({ line: begins, fields });
    if (rows.length > ROWS) throw new Refusal('too-large', `A list may name ${ROWS} files.`);
    [fields, begins] = [[], line];
  }
  return rows;
}
