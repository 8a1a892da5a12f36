// What plays, with all that a file says of it: the line, the clip, where both lie, and the notes that speak of it.
import { convertFrames } from '#core/rate.ts';
import { overlaps, type FrameRange } from '#core/range.ts';
import type { InputLine, InputNote, InputOffer, TurnoverInput } from '../input.ts';
import { inSource, isMeasured, sourceOf, type MeasuredClip, type Source } from '../source.ts';

/** A take where it plays. */
export interface PlacedTake {
  readonly clip: MeasuredClip;
  readonly offer: InputOffer;
  /** Frames of the clip. */
  readonly range: FrameRange;
  readonly source: Source;
  /** The same frames in the source, counted from 00:00:00:00. */
  readonly inSource: FrameRange;
  readonly approved: boolean;
}

export interface Placed {
  readonly line: InputLine;
  /** Frames of the film from its beginning. */
  readonly film: FrameRange;
  /** Null for a card. */
  readonly take: PlacedTake | null;
  readonly notes: readonly InputNote[];
}

/** Everything that plays, in order. */
export function placed(input: TurnoverInput): Placed[] {
  const lineById = new Map(input.lines.map((line) => [line.id, line]));
  const clipById = new Map(input.clips.map((clip) => [clip.id, clip]));
  const offerById = new Map(input.offers.map((offer) => [offer.id, offer]));
  const notesOf = Map.groupBy(input.notes, ({ offerId, slotId, clipId }) => offerId ?? slotId ?? clipId);
  return input.stretches.map(({ lineId, film, take }) => {
    const line = lineById.get(lineId)!;
    const clip = take && clipById.get(take.clipId);
    if (!take || !clip || !isMeasured(clip)) return { line, film, take: null, notes: notesOf.get(lineId) ?? [] };
    const source = sourceOf(clip);
    const notes = [...(notesOf.get(lineId) ?? []), ...(notesOf.get(take.offerId) ?? []), ...(notesOf.get(clip.id) ?? []).filter(({ range }) => !range || overlaps(range, take.range))];
    return { line, film, take: { clip, offer: offerById.get(take.offerId)!, range: take.range, source, inSource: inSource(source, take.range), approved: take.approved }, notes };
  });
}

/** Where a note on a take stands in the film: its frames as far as they play, or where the take begins. */
export function noteInFilm({ range }: InputNote, { film, take }: Placed, input: TurnoverInput): FrameRange {
  const at = (clipFrame: number): number => film.in + convertFrames(clipFrame - take!.range.in, take!.clip.rate, input.film.rate);
  if (!take || !range) return { in: film.in, outExclusive: film.in + 1 };
  const first = Math.min(film.outExclusive - 1, Math.max(film.in, at(range.in)));
  return { in: first, outExclusive: Math.max(first + 1, Math.min(film.outExclusive, at(range.outExclusive))) };
}

/** A note with what was answered to it, a line each. */
export function noteText({ by, text, replies }: InputNote): string {
  return [{ by, text }, ...replies].map((one) => `${one.by}: ${one.text}`).join('\n');
}

/** What a line is called in a file: its number and its name. */
export const lineName = ({ label, name }: InputLine): string => (name ? `${label} ${name}` : label);

/** Length of the film, in its frames. */
export const filmLength = ({ stretches }: TurnoverInput): number => stretches.at(-1)?.film.outExclusive ?? 0;

