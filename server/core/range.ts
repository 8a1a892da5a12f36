/**
 * A stretch of frames, half-open: `in` is its first frame, `outExclusive` the first one after it.
 *
 *     in           outExclusive
 *     |────────────|
 *     x  x  x  x   .     x: in the stretch   .: after it
 */
export type FrameRange = { readonly in: number; readonly outExclusive: number };

/** Why a range is refused: `field` is where, `why` and `expected` are for the person who set it. */
export type RangeReason = {
  readonly code: 'not-whole' | 'before-start' | 'reversed' | 'empty' | 'past-end';
  readonly field: 'in' | 'outExclusive';
  readonly why: string;
  readonly expected: string;
};

/** Null for a range of at least one frame that lies in a clip of `limit` frames, otherwise the reason. */
export function checkRange(range: FrameRange, limit: number): RangeReason | null {
  const { in: first, outExclusive: end } = range;
  for (const [field, n] of [['in', first], ['outExclusive', end]] as const) {
    if (Number.isSafeInteger(n)) continue;
    return { code: 'not-whole', field, why: `${n} is not a frame.`, expected: 'Frames are whole numbers from 0.' };
  }
  if (first < 0) {
    return { code: 'before-start', field: 'in', why: `In is ${first}.`, expected: 'The first frame of a clip is 0.' };
  }
  if (end < first) {
    return {
      code: 'reversed',
      field: 'outExclusive',
      why: `Out (${end}) comes before in (${first}).`,
      expected: `Out is ${first + 1} or later.`,
    };
  }
  if (end === first) {
    return {
      code: 'empty',
      field: 'outExclusive',
      why: 'In and out are the same, so there is no frame between them.',
      expected: `Out is exclusive: one frame from ${first} ends at ${first + 1}.`,
    };
  }
  if (end > limit) {
    return {
      code: 'past-end',
      field: 'outExclusive',
      why: `Out is ${end}, and the clip has ${limit} frames.`,
      expected: `Out is ${limit} or earlier.`,
    };
  }
  return null;
}

/** How many frames a range holds. */
export const lengthOf = (range: FrameRange): number => range.outExclusive - range.in;

/**
 * Whether a frame lies in a range.
 *
 *     range     |───────|
 *     yes       x      x
 *     no       x        x
 */
export const contains = (range: FrameRange, frame: number): boolean => range.in <= frame && frame < range.outExclusive;

/**
 * Whether two ranges share a frame; touching is not sharing.
 *
 *     a     |───────|              |───────|
 *     b         |───────|                  |───────|
 *           yes                    no
 */
export const overlaps = (a: FrameRange, b: FrameRange): boolean => a.in < b.outExclusive && b.in < a.outExclusive;

/**
 * What two ranges share, or null.
 *
 *     a         |───────|
 *     b             |───────|
 *     result        |───|
 */
export function intersect(a: FrameRange, b: FrameRange): FrameRange | null {
  const shared = { in: Math.max(a.in, b.in), outExclusive: Math.min(a.outExclusive, b.outExclusive) };
  return shared.in < shared.outExclusive ? shared : null;
}

/** The part of a range that lies in a clip of `limit` frames, or null when none does. */
export const clamp = (range: FrameRange, limit: number): FrameRange | null =>
  intersect(range, { in: 0, outExclusive: limit });

/**
 * The same frames as few ranges, in order: overlapping and touching ones become one, empty ones go.
 *
 *     list      |────|  |──|          |───|
 *                  |────|
 *     result    |──────────|          |───|
 */
export function union(list: readonly FrameRange[]): FrameRange[] {
  const joined: FrameRange[] = [];
  for (const next of list.filter((r) => lengthOf(r) > 0).sort((a, b) => a.in - b.in)) {
    const last = joined.at(-1);
    if (last && next.in <= last.outExclusive) {
      joined[joined.length - 1] = { in: last.in, outExclusive: Math.max(last.outExclusive, next.outExclusive) };
    } else {
      joined.push({ in: next.in, outExclusive: next.outExclusive });
    }
  }
  return joined;
}

/**
 * The frames of one list that are not in another, as `union` would write them.
 *
 *     from      |───────────────|
 *     away        |──|      |───────|
 *     result    |─|  |──────|
 */
export function subtract(from: readonly FrameRange[], away: readonly FrameRange[]): FrameRange[] {
  const holes = union(away);
  return union(from).flatMap((range) => {
    const kept: FrameRange[] = [];
    let start = range.in;
    for (const hole of holes) {
      if (!overlaps(range, hole)) continue;
      if (hole.in > start) kept.push({ in: start, outExclusive: hole.in });
      start = hole.outExclusive;
    }
    if (start < range.outExclusive) kept.push({ in: start, outExclusive: range.outExclusive });
    return kept;
  });
}
