// What a member sees who may watch offers and nothing else: the same proxy on the same timeline, with a gap wherever
// nothing is on offer (EXT-X-GAP, RFC 8216bis 4.4.4.7), so that frame numbers stay those of the clip.
import type { FrameRange } from '#core/range.ts';
import { nominal, type Rate } from '#core/rate.ts';

/** The offered stretches of a clip, and its rate. */
export interface Offered {
  rate: Rate;
  ranges: readonly FrameRange[];
}

/** A media playlist in which every segment that shows nothing on offer is a gap. */
export function withGaps(playlist: string, offered: Offered): string {
  const lines: string[] = [];
  let at = 0;
  for (const line of playlist.split('\n')) {
    if (line.startsWith('#EXTINF:')) {
      const length = secondsOf(line);
      if (!overlaps(offered, at, at + length)) lines.push('#EXT-X-GAP');
      at += length;
    }
    // EXT-X-GAP exists from version 8 on.
    lines.push(line.startsWith('#EXT-X-VERSION:') ? '#EXT-X-VERSION:8' : line);
  }
  return lines.join('\n');
}

/** Whether a segment named in a media playlist shows anything on offer. */
export function segmentIsOffered(playlist: string, segment: string, offered: Offered): boolean {
  let at = 0;
  let length = 0;
  for (const line of playlist.split('\n')) {
    if (line.startsWith('#EXTINF:')) length = secondsOf(line);
    else if (line !== '' && !line.startsWith('#')) {
      if (line === segment) return overlaps(offered, at, at + length);
      at += length;
    }
  }
  return false;
}

/** Whether still `number` (from 1: frame (number − 1) × labels in a second) lies in an offered stretch. */
export function stillIsOffered(number: number, { rate, ranges }: Offered): boolean {
  const frame = (number - 1) * nominal(rate);
  return ranges.some((range) => range.in <= frame && frame < range.outExclusive);
}

const secondsOf = (line: string): number => Number.parseFloat(line.slice('#EXTINF:'.length));

// Lengths in a playlist are rounded to microseconds; a segment that only touches a stretch by less than this does not show it.
const TOUCH_SECONDS = 0.001;

function overlaps({ rate, ranges }: Offered, from: number, to: number): boolean {
  return ranges.some((range) => (range.in * rate.den) / rate.num < to - TOUCH_SECONDS && (range.outExclusive * rate.den) / rate.num > from + TOUCH_SECONDS);
}
