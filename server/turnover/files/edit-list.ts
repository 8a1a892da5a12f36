// The string-out as edit lists in the columns of SMPTE ST 258M (the text was not at hand; the columns are those that two
// independent readers agree on, shared/facts/vectors.md 3). One picture track; a longer film is split at 999 events.
//
// All times are labels as the film counts. A source of another rate, or counted with drop where the film is not, is counted
// as the film counts: the time since midnight at its in point, to the nearest frame; its own labels stand in a comment.
import { convertFrames, rateText, sameRate, type Rate } from '#core/rate.ts';
import { formatTimecode } from '#core/timecode.ts';
import type { FrameRange } from '#core/range.ts';
import { sourceRange, type Shot, type Source, type TurnoverInput } from '../input.ts';
import { reelNameOf } from '../reels.ts';

const EVENTS = 999;

/** @param start frame of the film's timecode clock at which the film begins @param reels by clip @returns one text for every 999 events */
export function editLists({ film, shots, notes }: TurnoverInput, start: number, reels: ReadonlyMap<string, string>): string[] {
  const label = (frame: number): string => formatTimecode(frame, film.rate, { drop: film.drop });
  const lists: string[] = [];
  for (let from = 0; from === 0 || from < shots.length; from += EVENTS) {
    const some = shots.slice(from, from + EVENTS);
    const part = shots.length > EVENTS ? ` ${from / EVENTS + 1}` : '';
    const lines = [`TITLE: ${ascii(film.title)}${part}`, `FCM: ${film.drop ? 'DROP FRAME' : 'NON-DROP FRAME'}`];
    for (const [n, shot] of some.entries()) {
      const length = shot.film.outExclusive - shot.film.in;
      const first = shot.take ? sourceInFilm(shot.take.source, shot.take.range, film.rate) : 0;
      const reel = shot.take ? reels.get(shot.take.source.clip.id)! : 'BL';
      const times = [first, first + length, start + shot.film.in, start + shot.film.outExclusive].map(label).join(' ');
      lines.push(`${String(n + 1).padStart(3, '0')}  ${reel.padEnd(8)} ${'V'.padEnd(4)}  ${'C'.padEnd(4)} ${' '.repeat(3)} ${times}`);
      lines.push(...comments(shot, film, notes));
    }
    lists.push(lines.join('\r\n') + '\r\n');
  }
  return lists;
}

/** The in point of a take as the film counts. */
export function sourceInFilm(source: Source, range: FrameRange, film: Rate): number {
  const { in: first } = sourceRange(source, range);
  return sameRate(source.rate, film) ? first : convertFrames(first, source.rate, film);
}

function comments({ label, name, take }: Shot, film: TurnoverInput['film'], notes: TurnoverInput['notes']): string[] {
  const of = (text: string): string => `* ${ascii(text)}`;
  if (!take) return [of(`FROM CLIP NAME: ${label} ${name}`), of('NO TAKE YET')];
  const { source, range, offerId, approved } = take;
  const lies = sourceRange(source, range);
  const own = (frame: number): string => formatTimecode(frame, source.rate, { drop: source.drop });
  return [
    of(`FROM CLIP NAME: ${source.name}`),
    of(`SLOT: ${label} ${name}`),
    ...(approved ? [] : [of('NOT APPROVED YET')]),
    of(`REEL: ${reelNameOf(source)}`),
    ...(sameRate(source.rate, film.rate) && source.drop === film.drop ? [] : [of(`SOURCE AT ${rateText(source.rate)}: ${own(lies.in)} ${own(lies.outExclusive)}`)]),
    ...(source.original === 'unknown' ? [of('ORIGINAL NOT KNOWN, NAMED BY THE FILE THAT WAS SENT')] : []),
    ...notes.filter(({ about, settled }) => about === offerId && !settled).map(({ text, author, range: on }) => of(`NOTE${on ? ` AT ${own(sourceRange(source, on).in)}` : ''} ${author}: ${text}`)),
  ];
}

/** ST 258 lists are 7-bit ASCII, a line each. */
const ascii = (text: string): string => text.normalize('NFKD').replace(/[‘’]/g, "'").replace(/[“”]/g, '"').replace(/[–—]/g, '-').replace(/\s+/g, ' ').replace(/[\u0300-\u036f]/g, '').replace(/[^\x20-\x7e]/g, '?').trim();
