// WebVTT (W3C), in film time from the first frame: notes where they stand in the film, and the marks of the locked track.
import { framesToMillis } from '#core/rate.ts';
import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { lineName, noteInFilm, noteText, placed } from './placed.ts';

interface Cue {
  id: string;
  from: number;
  to: number;
  text: string;
}

const pad = (n: number, width = 2) => String(n).padStart(width, '0');

/** "hh:mm:ss.ttt" of whole milliseconds. */
const stamp = (ms: number): string => `${pad(Math.floor(ms / 3_600_000))}:${pad(Math.floor(ms / 60_000) % 60)}:${pad(Math.floor(ms / 1000) % 60)}.${pad(ms % 1000, 3)}`;

/** A cue's text holds no blank line, no arrow, and no bare "&" or "<". */
const escaped = (text: string): string =>
  text
    .replaceAll('\u0000', '')
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .split(/\r\n|\r|\n/)
    .filter((line) => line.trim() !== '')
    .join('\n');

function vttFile(name: string, head: string, cues: readonly Cue[]): TurnoverFile {
  const sorted = cues.toSorted((a, b) => a.from - b.from || a.to - b.to || (a.id < b.id ? -1 : 1));
  const blocks = [`WEBVTT ${escaped(head).replaceAll('\n', ' ')}`, ...sorted.map(({ id, from, to, text }) => `${id}\n${stamp(from)} --> ${stamp(to)}\n${escaped(text)}`)];
  return { name, type: 'text/vtt; charset=utf-8', text: `${blocks.join('\n\n')}\n` };
}

/** Notes on what plays. Those on anything else are in the log of notes only. */
export function notesVtt(input: TurnoverInput): TurnoverFile {
  const { rate, title } = input.film;
  const cues = placed(input).flatMap((one, place) =>
    one.notes.map((note) => {
      const { in: first, outExclusive } = noteInFilm(note, one, input);
      // A note on a clip stands wherever the clip plays, so its own id would come twice.
      return { id: `${place + 1}.${note.id}`, from: framesToMillis(first, rate), to: framesToMillis(outExclusive, rate), text: `${lineName(one.line)}${note.settled ? ' (settled)' : ''}\n${noteText(note)}` };
    }),
  );
  return vttFile('notes.vtt', `${title}: notes`, cues);
}

/** The marks of the locked track, which begins with the film; empty where none is locked. */
export function marksVtt(input: TurnoverInput): TurnoverFile {
  const { rate, title } = input.film;
  const oneFrame = Math.max(1, framesToMillis(1, rate));
  const cues = (input.track?.marks ?? []).map(({ id, kind, atMs, untilMs, name }) => ({ id, from: atMs, to: Math.max(atMs + oneFrame, untilMs ?? 0), text: name ? `${kind}: ${name}` : kind }));
  return vttFile('marks.vtt', `${title}: marks of the music`, cues);
}
