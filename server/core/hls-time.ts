import { frames, seconds, type Frames, type Loose, type Seconds } from './brand.ts';
import type { FrameRange } from './range.ts';
import { nominal, type Rate } from './rate.ts';

/*
 * Where the frames of a proxy lie. The picture is cut in closed groups of `nominal(rate)` frames, about a second,
 * and in segments of two groups; only the last of each may be shorter.
 */

const GROUPS_A_SEGMENT = 2;
const segmentFrames = (rate: Rate) => GROUPS_A_SEGMENT * nominal(rate);

/**
 * The exact length of a whole segment, 2.002 s at 29.97: what the encoder has to be told. Told a plain 2, ffmpeg
 * measures its cuts from the beginning, falls 2 ms behind with each, and after a thousand seconds cuts a group early.
 */
export const segmentSeconds = (rate: Rate): Seconds => seconds((segmentFrames(rate) * rate.den) / rate.num);

function position(n: number, what: string): number {
  if (!Number.isSafeInteger(n) || n < 0) throw new RangeError(`${what} is a whole number from 0; got ${n}.`);
  return n;
}

/** The segment, counted from 0, that holds frame `n`. Throws RangeError for a negative or broken frame. */
export const segmentOfFrame = (n: Loose<Frames>, rate: Rate): number =>
  Math.floor(position(n, 'A frame') / segmentFrames(rate));

/** How many segments a picture of `total` frames is cut into. Throws RangeError for a negative or broken total. */
export const segmentCount = (total: Loose<Frames>, rate: Rate): number =>
  Math.ceil(position(total, 'A count of frames') / segmentFrames(rate));

/** The frames of segment `k` of a picture of `total` frames. Throws RangeError where there is no such segment. */
export function segmentRange(k: number, rate: Rate, total: Loose<Frames>): FrameRange {
  const count = segmentCount(total, rate);
  if (position(k, 'A segment') >= count) throw new RangeError(`There are ${count} segments; got segment ${k}.`);
  const first = k * segmentFrames(rate);
  return { in: first, outExclusive: Math.min(first + segmentFrames(rate), total) };
}

/** The first frame of the group of frame `n`, where decoding has to begin. Throws RangeError as `segmentOfFrame`. */
export function groupStart(n: Loose<Frames>, rate: Rate): Frames {
  return frames(position(n, 'A frame') - (n % nominal(rate)));
}
