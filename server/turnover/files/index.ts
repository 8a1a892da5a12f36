// All that leaves, each a pure function of one input.
import { createHash } from 'node:crypto';
import { zipSync } from 'fflate';
import { parseTimecode } from '#core/timecode.ts';
import type { TurnoverFile } from '../contract.ts';
import type { TurnoverInput } from '../input.ts';
import { reelsOf } from '../reels.ts';
import { editLists } from './edit-list.ts';
import { clipsCsv, notesCsv, picksCsv, pullCsv, selectsCsv } from './logs.ts';
import { selectsOtio, stringOutOtio } from './otio.ts';
import { marksVtt, notesVtt } from './vtt.ts';

export interface MadeFile extends TurnoverFile {
  text: string;
}

/** Films begin at one hour (common practice, no source). */
const BEGINS = '01:00:00:00';
const MANIFEST = 'sha256sum.txt';

/** The film's timecode at its first frame, in frames. */
export const startOf = ({ film }: TurnoverInput): number => parseTimecode(film.drop ? BEGINS.replace(/:(\d+)$/, ';$1') : BEGINS, film.rate, { drop: film.drop }).frame;

/** @param handles frames before in and after out that the pull list asks for */
export function filesOf(input: TurnoverInput, handles: number): MadeFile[] {
  const start = startOf(input);
  const lists = editLists(input, start, reelsOf(input.shots.flatMap(({ take }) => take?.source ?? [])));
  return [
    made('string-out.otio', 'The string-out as an OpenTimelineIO timeline, with notes and marks as markers', stringOutOtio(input, start)),
    ...lists.map((text, n) => made(lists.length > 1 ? `string-out-${n + 1}.edl` : 'string-out.edl', 'The string-out as an edit list in the columns of SMPTE ST 258', text)),
    made('selects.otio', 'All selects, a timeline for each shoot day and camera', selectsOtio(input)),
    made('picks.csv', 'What plays in each slot', picksCsv(input, start)),
    made('selects.csv', 'All selects', selectsCsv(input)),
    made('clips.csv', 'All clips', clipsCsv(input)),
    made('notes.csv', 'All notes', notesCsv(input)),
    made('pull-list.csv', 'Camera originals to be fetched, with handles', pullCsv(input, handles)),
    made('notes.vtt', 'Open notes on the time of the film', notesVtt(input)),
    made('marks.vtt', 'Marks of the locked track', marksVtt(input)),
  ];
}

function made(name: string, about: string, text: string): MadeFile {
  const bytes = Buffer.from(text);
  return { name, about, bytes: bytes.length, sha256: createHash('sha256').update(bytes).digest('hex'), text };
}

/** All files and their checksums, as sha256sum writes them, in one archive dated by the newest event. */
export function zipOf(files: readonly MadeFile[], at: string): Uint8Array {
  const manifest = files.map(({ sha256, name }) => `${sha256}  ${name}\n`).join('');
  const entries = [...files.map(({ name, text }) => [name, Buffer.from(text)] as const), [MANIFEST, Buffer.from(manifest)] as const];
  return zipSync(Object.fromEntries(entries.map(([name, bytes]) => [name, new Uint8Array(bytes)])), { mtime: localAsUtc(at) });
}

/** The archive writes a date's local fields; taken from UTC they are the same on every machine. */
function localAsUtc(at: string): Date {
  const date = new Date(at);
  return new Date(date.getUTCFullYear(), date.getUTCMonth(), date.getUTCDate(), date.getUTCHours(), date.getUTCMinutes(), date.getUTCSeconds());
}
