import type { Budget } from './budget.ts';
import type { Line, OutlineRow } from './outline.ts';
import { convertFrames, type Rate } from './rate.ts';
import type { FrameRange } from './range.ts';
import { slotState, type Standing } from './slot-state.ts';

/*
 * The string-out: the film as it stands, in outline order. Every line with nothing inside it plays: its pick, else the best
 * of what is on offer, else a card with its words at the length that its budget gives it. A take plays at its own trim,
 * whatever was planned.
 *
 * Rates are conformed without changing the pace: a stretch of a clip lasts the nearest whole number of the film's frames,
 * at least one, and the film's frame k of it shows the clip's frame that is on screen just before the middle of frame k
 * (`shownFrame`). At equal rates that is the same frame. It is also what ffmpeg's `fps=…:round=near` does.
 */

/** An offer as far as the string-out depends on it. */
export interface OfferStanding extends Standing {
  readonly id: string;
  readonly slotId: string;
  readonly clipId: string;
  readonly in: number;
  readonly outExclusive: number;
  readonly orderKey: string;
}

/** What plays for one line: a stretch of a clip, in frames of the clip, or (null) a card of so many frames of the film. */
export interface Entry {
  readonly lineId: string;
  readonly take: { readonly offerId: string; readonly clipId: string; readonly range: FrameRange; readonly approved: boolean } | null;
  /** The length of the card, in frames of the film. */
  readonly cardFrames: number;
}

/** An entry where it lies in the film, in frames of the film from its beginning. */
export interface Stretch extends Entry {
  readonly film: FrameRange;
}

/** The offer that plays where nothing is approved: the first that is held, else the first nobody has decided on; null for none. */
export function bestOffer<T extends OfferStanding>(offers: readonly T[]): T | null {
  const inOrder = offers.filter((offer) => !offer.removedAt).toSorted((a, b) => compare(a.orderKey, b.orderKey) || compare(a.id, b.id));
  const state = slotState(inOrder);
  if (state.is === 'approved') return state.pick;
  return inOrder.find(({ verdict }) => verdict === 'hold') ?? inOrder.find(({ verdict }) => verdict === 'open') ?? null;
}

/**
 * What plays, line by line.
 * @param lines what `outlineOrder` gave
 * @param offers of the film, in any order; those of clips that are gone must be left out by the caller
 * @param budget of the same lines, for the cards
 */
export function entriesOf<Row extends OutlineRow>(lines: readonly Line<Row>[], offers: readonly OfferStanding[], budget: Budget): Entry[] {
  const bySlot = Map.groupBy(offers, ({ slotId }) => slotId);
  return lines
    .filter(({ children }) => children.length === 0)
    .map(({ row }) => {
      const offer = bestOffer(bySlot.get(row.id) ?? []);
      const range = offer && { in: offer.in, outExclusive: offer.outExclusive };
      return {
        lineId: row.id,
        take: offer && range && { offerId: offer.id, clipId: offer.clipId, range, approved: offer.verdict === 'approve' },
        cardFrames: Math.max(1, budget.lines.get(row.id)?.frames ?? 1),
      };
    });
}

/**
 * Lays entries one after the other from frame 0 of the film.
 * @param rateOf the rate of a clip @param film the rate of the film
 */
export function laidOut(entries: readonly Entry[], rateOf: (clipId: string) => Rate, film: Rate): Stretch[] {
  let at = 0;
  return entries.map((entry) => {
    const length = entry.take ? conformedLength(entry.take.range, rateOf(entry.take.clipId), film) : entry.cardFrames;
    const stretch = { ...entry, film: { in: at, outExclusive: at + length } };
    at += length;
    return stretch;
  });
}

/** How many frames of the film a stretch of a clip lasts: the nearest whole number, halves up, at least one. */
export const conformedLength = (range: FrameRange, clip: Rate, film: Rate): number => Math.max(1, convertFrames(range.outExclusive - range.in, clip, film));

/**
 * The frame of the clip that the film's frame `k` of a stretch shows: the one on screen just before the middle of frame k.
 * @param k from 0 to `conformedLength` (exclusive) @returns a frame of the clip, within the range
 */
export function shownFrame(k: number, range: FrameRange, clip: Rate, film: Rate): number {
  const [above, below] = [BigInt(2 * k + 1) * BigInt(clip.num) * BigInt(film.den), 2n * BigInt(clip.den) * BigInt(film.num)];
  const started = Number((above + below - 1n) / below);
  return Math.min(range.outExclusive - 1, range.in + started - 1);
}

/** The stretch in which a frame of the film lies, by its place in the list; -1 beyond the end. */
export function stretchAt(stretches: readonly Pick<Stretch, 'film'>[], frame: number): number {
  let [low, high] = [0, stretches.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (stretches[middle]!.film.outExclusive <= frame) low = middle + 1;
    else high = middle;
  }
  return low < stretches.length ? low : -1;
}

const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
