import type { FrameRange } from '#core/range.ts';
import type { Rate } from '#core/rate.ts';

/** A clip that lies beside others in time. */
export interface Laid {
  rate: Rate;
  frames: number;
  /** Seconds from the common zero to its first frame. */
  offset: { num: number; den: number };
}

const startOf = ({ offset }: Laid): number => offset.num / offset.den;
const lengthOf = ({ rate, frames }: Laid): number => (frames * rate.den) / rate.num;

/** The moment of a frame of a clip, in seconds of the common time. */
export const momentOf = (laid: Laid, frame: number): number => startOf(laid) + (frame * laid.rate.den) / laid.rate.num;

/** The frame of a clip that begins nearest to a moment, held inside the clip. */
export const frameAtMoment = (laid: Laid, moment: number): number =>
  Math.max(0, Math.min(laid.frames - 1, Math.round(((moment - startOf(laid)) * laid.rate.num) / laid.rate.den)));

/** The stretch in which all of them rolled, in seconds of the common time, half-open; null when there is none. */
export function sharedStretch(all: readonly Laid[]): { from: number; until: number } | null {
  const from = Math.max(...all.map(startOf));
  const until = Math.min(...all.map((laid) => startOf(laid) + lengthOf(laid)));
  return all.length > 0 && until > from ? { from, until } : null;
}

/**
 * What each is to play so that all play the same moments: from the moment given, or where that is not shared, from the
 * first that is, to the last that is. Null when they share none.
 */
export function sharedRanges(all: readonly Laid[], moment: number): FrameRange[] | null {
  const shared = sharedStretch(all);
  if (!shared) return null;
  const from = moment >= shared.from && moment < shared.until ? moment : shared.from;
  return all.map((laid) => {
    const first = frameAtMoment(laid, from);
    return { in: first, outExclusive: Math.max(first + 1, frameAtMoment(laid, shared.until - laid.rate.den / laid.rate.num) + 1) };
  });
}
