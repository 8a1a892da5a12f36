import type { PickBook } from './contract.ts';
import { noteText, placed } from './files/placed.ts';
import type { TurnoverInput } from './input.ts';
import { filmLabel, sourceLabel } from './source.ts';

/** What plays, slot by slot, in the words and timecodes of the files. */
export function pickBook(input: TurnoverInput): PickBook {
  return {
    at: input.film.at,
    slots: placed(input).map(({ line, film, take, notes }) => ({
      lineId: line.id,
      number: line.label,
      sequence: line.sequence,
      ...{ name: line.name, mustShow: line.mustShow, comesIn: line.comesIn, goesOut: line.goesOut },
      state: take ? (take.approved ? 'approved' : 'offered') : 'empty',
      recordIn: filmLabel(film.in, input),
      recordOut: filmLabel(film.outExclusive, input),
      frames: film.outExclusive - film.in,
      take: take && {
        clipId: take.clip.id,
        clip: take.clip.name,
        card: take.clip.card,
        reel: take.source.reel,
        file: take.source.path,
        sourceIn: sourceLabel(take.inSource.in, take.source),
        sourceOut: sourceLabel(take.inSource.outExclusive, take.source),
        stillFrame: Math.floor((take.range.in + take.range.outExclusive) / 2),
        cutIn: take.approved && take.offer.cutInAt !== null,
      },
      notes: notes.map((note) => ({ id: note.id, at: take && note.range ? sourceLabel(note.range.in - take.range.in + take.inSource.in, take.source) : null, text: noteText(note), settled: note.settled })),
    })),
  };
}
