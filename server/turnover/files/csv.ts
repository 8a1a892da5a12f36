// Comma-separated values, RFC 4180: CR LF after every record, quotes where a field needs them, a quote inside doubled.
import type { TurnoverFile } from '../input.ts';

export type Cell = string | number | boolean | null;

/**
 * A field as a table program can open it without running it: text that begins like a formula gets a single quote in front
 * (OWASP ASVS 5.0, 1.2.10). NUL, which no text here needs, is dropped.
 */
function field(cell: Cell): string {
  if (cell === null) return '';
  if (typeof cell === 'number') return String(cell);
  if (typeof cell === 'boolean') return cell ? 'yes' : 'no';
  const text = cell.replaceAll('\u0000', '');
  const safe = /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** A table with a head. Every row has a cell for every column. */
export function csvFile<Column extends string>(name: string, columns: readonly Column[], rows: readonly Record<Column, Cell>[]): TurnoverFile {
  const text = [columns, ...rows.map((row) => columns.map((column) => row[column]))].map((cells) => `${cells.map(field).join(',')}\r\n`).join('');
  return { name, type: 'text/csv; charset=utf-8; header=present', text };
}
