import { createHash } from 'node:crypto';
import type { Readable } from 'node:stream';
import { setImmediate as breath } from 'node:timers/promises';
import { ZipFile } from 'yazl';
import type { FileLine } from './contract.ts';
import { toAscii } from './files/ascii.ts';
import { makeFiles } from './files/index.ts';
import type { TurnoverFile, TurnoverInput } from './input.ts';

const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');

/** Every file and a line about it. Others of this process have their turn between two files. */
async function madeFiles(input: TurnoverInput): Promise<{ file: TurnoverFile; line: FileLine }[]> {
  const made: { file: TurnoverFile; line: FileLine }[] = [];
  for (const file of makeFiles(input)) {
    made.push({ file, line: { name: file.name, type: file.type, bytes: Buffer.byteLength(file.text), sha256: sha256(file.text) } });
    await breath();
  }
  return made;
}

/** What a turnover of this film has, with sizes and checksums. */
export const listFiles = async (input: TurnoverInput): Promise<FileLine[]> => (await madeFiles(input)).map(({ line }) => line);

/** What the package is called, without its ending; also the folder in it. */
export function packageName({ film }: TurnoverInput): string {
  const slug = toAscii(film.title).toLowerCase().replaceAll(/[^a-z0-9]+/g, '-').replaceAll(/^-+|-+$/g, '').slice(0, 60);
  return `${slug || 'film'}-turnover-${film.seq}`;
}

/**
 * Everything in one zip, in a folder, with `checksums.sha256` as sha256sum reads it. The same film gives the same bytes:
 * names are sorted, and times are those of the newest event, as UTC has them.
 */
export async function packageOf(input: TurnoverInput): Promise<Readable> {
  const files = (await madeFiles(input)).map(({ file, line }) => ({ name: file.name, text: file.text, sum: line.sha256 })).sort((a, b) => (a.name < b.name ? -1 : 1));
  const sums = { name: 'checksums.sha256', text: files.map(({ name, sum }) => `${sum}  ${name}\n`).join('') };
  const zip = new ZipFile();
  // A zip holds the hour on the wall, and yazl asks the machine's own clock for it.
  const at = new Date(input.film.at);
  const mtime = new Date(at.getUTCFullYear(), at.getUTCMonth(), at.getUTCDate(), at.getUTCHours(), at.getUTCMinutes(), at.getUTCSeconds());
  for (const { name, text } of [...files, sums]) zip.addBuffer(Buffer.from(text), `${packageName(input)}/${name}`, { mtime, mode: 0o100644, forceDosTimestamp: true });
  zip.end();
  return zip.outputStream as Readable;
}
