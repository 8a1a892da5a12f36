// Edit lists in the manner of SMPTE ST 258: cuts on one picture track, out points exclusive, times in the list's own rate.
// Columns, FCM, BL and the comments FROM CLIP NAME and SOURCE FILE: github iluvcapra/pycmx and
// OpenTimelineIO/otio-cmx3600-adapter as readers. 999 events a list, lines of 80 characters and CR LF: common practice, no
// source.
import { dayFrames, formatTimecode } from '#core/timecode.ts';
import { rateText } from '#core/rate.ts';
import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { filmLabel, listFrame, sourceLabel } from '../source.ts';
import { toAscii } from './ascii.ts';
import { lineName, noteText, placed, type Placed, type PlacedTake } from './placed.ts';
import { NO_REEL, REEL_LENGTH, reelNames } from './reels.ts';

export const EVENTS_A_LIST = 999;
const LINE = 80;
const END = '\r\n';

/** The string-out as edit lists, as many as its events need: `string-out.edl`, or `string-out-1.edl` and so on. */
export function editLists(input: TurnoverInput): TurnoverFile[] {
  const all = placed(input);
  const reels = reelNames(all.flatMap(({ take }) => (take ? [take.source] : [])));
  const parts = Math.max(1, Math.ceil(all.length / EVENTS_A_LIST));
  return Array.from({ length: parts }, (_, part) => {
    const events = all.slice(part * EVENTS_A_LIST, (part + 1) * EVENTS_A_LIST);
    const title = toAscii(input.film.title).slice(0, 60) || 'FILM';
    const head = [`TITLE: ${title}${parts > 1 ? ` ${part + 1} OF ${parts}` : ''}`, `FCM: ${input.film.drop ? 'DROP FRAME' : 'NON-DROP FRAME'}`];
    const text = [...head, ...events.flatMap((one, n) => eventLines(one, n + 1, reels, input))].map((line) => line + END).join('');
    return { name: parts > 1 ? `string-out-${part + 1}.edl` : 'string-out.edl', type: 'text/plain; charset=us-ascii', text };
  });
}

function eventLines(one: Placed, number: number, reels: ReadonlyMap<string, string>, input: TurnoverInput): string[] {
  const { line, film, take, notes } = one;
  const list = input.film;
  const record = [filmLabel(film.in, input), filmLabel(film.outExclusive, input)];
  const length = film.outExclusive - film.in;
  const begins = take ? listFrame(take.inSource.in, take.source, list) : { frame: 0, drop: list.drop };
  const source = [begins.frame, begins.frame + length].map((frame) => formatTimecode(frame % dayFrames(list.rate, begins.drop), list.rate, { drop: begins.drop }));
  const reel = take ? (reels.get(take.source.reel) ?? NO_REEL) : 'BL';
  return [
    `${String(number).padStart(3, '0')}  ${reel.padEnd(REEL_LENGTH)} ${'V'.padEnd(4)}  ${'C'.padEnd(4)} ${' '.repeat(3)} ${[...source, ...record].join(' ')}`,
    ...(take ? takeComments(take, list) : []),
    ...comment('SLOT', lineName(line)),
    ...(take && !take.approved ? ['* NOT APPROVED'] : []),
    ...(take ? [] : ['* NOTHING YET']),
    ...notes.flatMap((note) => comment(note.settled ? 'NOTE (SETTLED)' : 'NOTE', `${take && note.range ? `${sourceLabel(note.range.in - take.range.in + take.inSource.in, take.source)} ` : ''}${noteText(note).replaceAll(/\s+/g, ' ')}`)),
  ];
}

function takeComments({ clip, source, inSource, offer }: PlacedTake, list: TurnoverInput['film']): string[] {
  const sameCount = source.rate.num * list.rate.den === list.rate.num * source.rate.den;
  return [
    // On one line whatever its length: readers take the name as it stands.
    `* FROM CLIP NAME: ${toAscii(clip.name)}`,
    ...(source.name === clip.name ? [] : [`* SOURCE FILE: ${toAscii(source.path)}`]),
    ...(source.reel ? comment('REEL', source.reel) : []),
    ...(sameCount ? [] : [`* COUNTED AT ${rateText(source.rate)}: ${sourceLabel(inSource.in, source)} TO ${sourceLabel(inSource.outExclusive, source)}`]),
    ...(clip.variableRate ? ['* VARIABLE FRAME RATE'] : []),
    ...(source.labelled ? [] : ['* NO TIMECODE: COUNTED FROM ITS FIRST FRAME']),
    `* OFFER: ${offer.id}`,
  ];
}

/** A comment on as many lines as it needs; the later ones are indented. */
function comment(key: string, text: string): string[] {
  const lines: string[] = [];
  let line = `* ${key}:`;
  for (const word of toAscii(text).split(' ').flatMap((one) => one.match(/.{1,70}/g) ?? [])) {
    if (line.length + 1 + word.length > LINE && line.trim() !== '*') {
      lines.push(line);
      line = '*  ';
    }
    line += ` ${word}`;
  }
  return [...lines, line];
}
