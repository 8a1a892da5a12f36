// The strip of a clip: a still a second, hung one below the other, so that time runs downward.
import { contains, type FrameRange } from '#core/range.ts';
import { nominal, type Rate } from '#core/rate.ts';

/** Height of one still on the strip, in CSS pixels: as long as the group of frames it stands for. */
export const STILL_HEIGHT = 72;

/** Where the frames of a stretch of a clip lie on its strip. */
export interface Scale {
  readonly range: FrameRange;
  readonly rate: Rate;
  /** Length of the whole strip, in CSS pixels. */
  readonly height: number;
}

/** @param range what hangs there: a whole clip, or the trim of an offer; at least one frame. */
export function scaleOf(range: FrameRange, rate: Rate): Scale {
  return { range, rate, height: Math.ceil(((range.outExclusive - range.in) * STILL_HEIGHT) / nominal(rate)) };
}

/** How far down the top of a frame is. Frames outside the strip lie at its ends. */
export function yOf({ range, rate }: Scale, frame: number): number {
  return ((Math.min(Math.max(frame, range.in), range.outExclusive) - range.in) * STILL_HEIGHT) / nominal(rate);
}

/** The frame that lies at a height; the first or last one beyond the ends. */
export function frameAtY({ range, rate }: Scale, y: number): number {
  const frame = range.in + Math.floor((y * nominal(rate)) / STILL_HEIGHT);
  return Math.min(Math.max(frame, range.in), range.outExclusive - 1);
}

/** One still and where it hangs; the first and last may be cut by the ends of the strip. */
export interface Hung {
  /** First frame of the group that the still stands for. */
  readonly frame: number;
  readonly top: number;
  readonly height: number;
}

/** The stills between two heights: what is out of sight is not drawn, however long the clip. */
export function stillsBetween(scale: Scale, top: number, bottom: number): Hung[] {
  const group = nominal(scale.rate);
  const { in: first, outExclusive: end } = scale.range;
  const from = Math.floor(frameAtY(scale, top) / group) * group;
  const to = frameAtY(scale, bottom);
  const hung: Hung[] = [];
  for (let frame = from; frame <= to; frame += group) {
    const start = yOf(scale, Math.max(frame, first));
    hung.push({ frame, top: start, height: yOf(scale, Math.min(frame + group, end)) - start });
  }
  return hung;
}

/** Puts ranges that overlap beside each other: the lane of each from 0, in the order given (by in). */
export function lanesOf(ranges: readonly FrameRange[]): number[] {
  const ends: number[] = [];
  return ranges.map((range) => {
    const free = ends.findIndex((end) => end <= range.in);
    const lane = free < 0 ? ends.length : free;
    ends[lane] = range.outExclusive;
    return lane;
  });
}

/** Tops of cards that want to stand at `at` and may not overlap: in order, each as high as it can. */
export function stackOf(cards: readonly { at: number; height: number }[], gap: number): number[] {
  let free = 0;
  return cards.map(({ at, height }) => {
    const top = Math.max(at, free);
    free = top + height + gap;
    return top;
  });
}

/** Whether a note with a place of its own speaks of a frame. */
export function speaksOf(note: { in: number | null; outExclusive: number | null }, frame: number): boolean {
  return note.in !== null && note.outExclusive !== null && contains({ in: note.in, outExclusive: note.outExclusive }, frame);
}
