// Reading lists of camera originals made at the source. They come from outside: what no honest list holds is refused
// with the line it stands on, and nothing of such a list is kept.
import { Type } from 'typebox';
import Value from 'typebox/value';
import { nearestRate, rate as rateOf, type Rate } from '#core/rate.ts';
import { canDrop, parseTimecode, TimecodeError } from '#core/timecode.ts';
import { Entries, MANIFEST_BYTES, readManifest, type Entry } from '../cards/index.ts';
import { Refusal } from '../platform/errors.ts';
import { damaged, readCsv } from './csv.ts';
import type { Length, Start } from './rules.ts';

/** One camera original as a list names it. */
export interface Listed {
  /** Relative to the card, with `/` between names. */
  path: string;
  reel: string | null;
  rate: Rate | null;
  start: Start | null;
  length: Length | null;
  bytes: number | null;
  xxh64: string | null;
}

/** Columns of a table, by the words they may be headed with. */
const COLUMNS = {
  path: ['name', 'file', 'filename', 'file name', 'path'],
  reel: ['reel', 'reel name', 'tape'],
  start: ['start', 'start timecode', 'timecode', 'tc in', 'start tc'],
  rate: ['rate', 'frame rate', 'fps'],
  frames: ['frames', 'length in frames', 'duration in frames'],
  duration: ['duration', 'length', 'seconds', 'duration in seconds'],
  bytes: ['size', 'bytes'],
  xxh64: ['xxh64', 'checksum'],
} as const;
type Column = keyof typeof COLUMNS;

/**
 * Reads a list of originals: a table with a head (RFC 4180), what `ffprobe -show_format -show_streams -of json` says of
 * a file, ASC MHL, or a plain list of checksums.
 * @throws Refusal `too-large`, `manifest-unknown`, `manifest-damaged`, `manifest-path`, `manifest-duplicate`.
 */
export function readOriginals(bytes: Uint8Array): Listed[] {
  if (bytes.byteLength > MANIFEST_BYTES) throw new Refusal('too-large', `A list may have ${MANIFEST_BYTES} bytes; this one has ${bytes.byteLength}.`);
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true }).decode(bytes);
  } catch {
    throw new Refusal('manifest-unknown', 'The list is not text in UTF-8.');
  }
  if (/^\s*\{/.test(text)) return [readReport(text)];
  const head = text.slice(0, Math.max(0, text.indexOf('\n'))).toLowerCase();
  if (!/^\s*</.test(text) && /[,"]/.test(head) && head.split(',').some((word) => columnOf(word) === 'path')) return readTable(text);
  return readManifest(bytes).entries.map((entry) => ({ path: entry.path, reel: null, rate: null, start: null, length: null, bytes: entry.bytes, xxh64: xxh64Of(entry) }));
}

// A plain list does not say which of two kinds of one length it holds; only an equal value will ever be believed.
const xxh64Of = ({ sums }: Entry): string | null => sums.find(({ kinds }) => kinds.includes('xxh64'))?.value ?? null;

const columnOf = (word: string): Column | undefined => {
  const plain = word.trim().replace(/^"|"$/g, '').toLowerCase();
  return (Object.keys(COLUMNS) as Column[]).find((column) => (COLUMNS[column] as readonly string[]).includes(plain));
};

function readTable(text: string): Listed[] {
  const [head, ...rows] = readCsv(text);
  const columns = head!.fields.map(columnOf);
  const twice = columns.find((column, n) => column && columns.indexOf(column) !== n);
  if (twice) throw damaged(1, `two columns are headed as ${COLUMNS[twice].join(', ')}.`);
  if (rows.length === 0) throw new Refusal('manifest-damaged', 'The list names no file.');
  const entries = new Entries({ strict: true });
  return rows.map(({ line, fields }) => {
    if (fields.length !== columns.length) throw damaged(line, `${fields.length} fields stand under ${columns.length} heads.`);
    const field = (column: Column): string | null => fields[columns.indexOf(column)]?.trim() || null;
    const path = field('path');
    if (path === null) throw damaged(line, 'the file has no name.');
    entries.add({ path, bytes: null, sums: [] } satisfies Entry, line);
    const rate = readRate(field('rate'), line);
    const sum = field('xxh64')?.toLowerCase() ?? null;
    return {
      path,
      reel: field('reel'),
      rate,
      start: readStart(field('start'), rate, line),
      length: readLength(field('frames'), field('duration'), line),
      bytes: wholeNumber(field('bytes'), 'size', line),
      // A checksum of another kind is no fault; it is only not compared.
      xxh64: sum && /^[0-9a-f]{16}$/.test(sum) ? sum : null,
    };
  });
}

function readRate(text: string | null, line: number): Rate | null {
  if (text === null) return null;
  const [, num, den = '1'] = /^(\d{1,6})\/(\d{1,6})$/.exec(text) ?? [];
  if (num && Number(num) > 0 && Number(den) > 0) return rateOf(Number(num), Number(den));
  const rate = /^\d{1,3}(\.\d{1,6})?$/.test(text) ? nearestRate(Number(text)) : null;
  if (rate) return rate;
  throw damaged(line, `"${text}" is no frame rate; write 23.976, 25 or 30000/1001.`);
}

function readStart(text: string | null, rate: Rate | null, line: number): Start | null {
  // Without its rate a label names no frame.
  if (text === null || rate === null) return null;
  try {
    return parseTimecode(text, rate);
  } catch (error) {
    if (error instanceof TimecodeError) throw damaged(line, error.message);
    throw error;
  }
}

function wholeNumber(text: string | null, what: string, line: number): number | null {
  if (text === null) return null;
  if (/^\d{1,15}$/.test(text)) return Number(text);
  throw damaged(line, `"${text}" is no ${what}; write a whole number.`);
}

function readLength(frames: string | null, duration: string | null, line: number): Length | null {
  const count = wholeNumber(frames, 'number of frames', line);
  if (count !== null) return { frames: count };
  return duration === null ? null : secondsOf(duration, line);
}

/** Seconds are known as far as they are written: 12.5 is anything from 12.45 to 12.55. */
function secondsOf(text: string, line: number): Length {
  const [whole, decimals = ''] = /^\d{1,7}(?:\.(\d{1,9}))?$/.exec(text) ?? [];
  if (whole === undefined) throw damaged(line, `"${text}" is no length in seconds; write 12.48.`);
  return { seconds: Number(whole), within: 0.5 / 10 ** decimals.length };
}

const Tags = Type.Optional(Type.Record(Type.String(), Type.Unknown()));
const Text = Type.Optional(Type.String());
const Report = Type.Object({
  format: Type.Object({ filename: Type.String(), size: Text, tags: Tags }),
  streams: Type.Array(Type.Object({ codec_type: Text, r_frame_rate: Text, avg_frame_rate: Text, nb_frames: Text, duration: Text, tags: Tags })),
});

/** What ffprobe says of one file. Its folders are those of the machine it was asked on, so only the name is taken. */
function readReport(text: string): Listed {
  let report: unknown;
  try {
    report = JSON.parse(text);
  } catch {
    throw new Refusal('manifest-damaged', 'The report of ffprobe is cut short or was changed.');
  }
  const unknown = () => new Refusal('manifest-unknown', 'This is no report of ffprobe on a clip, made with -show_format -show_streams -of json.');
  if (!Value.Check(Report, report)) throw unknown();
  const { format, streams } = report;
  const picture = streams.find(({ codec_type }) => codec_type === 'video');
  const path = format.filename.split(/[/\\]/).at(-1) ?? '';
  if (!picture || path === '') throw unknown();
  new Entries({ strict: true }).add({ path, bytes: null, sums: [] }, null);
  const word = (value: unknown): string | null => (typeof value === 'string' && value !== '' && value !== 'N/A' ? value : null);
  const tag = (name: string): string | null => [format.tags, ...streams.map(({ tags }) => tags)].map((tags) => word(tags?.[name])).find((value) => value !== null) ?? null;
  const stated = [word(picture.avg_frame_rate), word(picture.r_frame_rate)].map((value) => (value && !value.startsWith('0/') ? readRate(value, 1) : null)).find((value) => value !== null) ?? null;
  const rate = stated && (nearestRate(stated) ?? stated);
  const start = readStart(tag('timecode'), rate, 1);
  return {
    path,
    reel: tag('reel_name'),
    rate,
    start: start && { frame: start.frame, drop: start.drop && canDrop(rate!) },
    length: readLength(word(picture.nb_frames), word(picture.duration), 1),
    bytes: wholeNumber(word(format.size), 'size', 1),
    xxh64: null,
  };
}
