import { frames, type Frames } from './brand.ts';
import { nominal, type Rate } from './rate.ts';
import { formatDuration, parseDuration, TimecodeError } from './timecode.ts';

/*
 * What a line of the outline asks for its length. Lengths are frames at the rate of the film; a share is hundredths of
 * a percent of the part the line stands in, or of the film for a sequence.
 */
export type Wish =
  | { readonly kind: 'open' }
  | { readonly kind: 'fixed'; readonly frames: number }
  | { readonly kind: 'range'; readonly min: number; readonly max: number }
  | { readonly kind: 'share'; readonly share: number };

/** Nothing asked: the line takes its part of what the others leave. */
export const OPEN: Wish = Object.freeze({ kind: 'open' });

/** A share of everything. */
export const WHOLE = 10_000;

/** Whether two wishes ask for the same. */
export const sameWish = (a: Wish, b: Wish): boolean => `${parts(a)}` === `${parts(b)}`;

function parts(wish: Wish): (string | number)[] {
  if (wish.kind === 'range') return [wish.kind, wish.min, wish.max];
  return wish.kind === 'open' ? [wish.kind] : [wish.kind, wish.kind === 'fixed' ? wish.frames : wish.share];
}

/** The frames a wish asks for, where it says so by itself: null for open and for a share. A range is both its ends. */
export function framesAsked(wish: Wish): { readonly min: number; readonly max: number } | null {
  if (wish.kind === 'fixed') return { min: wish.frames, max: wish.frames };
  return wish.kind === 'range' ? { min: wish.min, max: wish.max } : null;
}

/**
 * Reads one length: "0:40", "40s", "40", "18f" for frames, "0:04.12".
 * Null for an empty text. Throws TimecodeError for anything else, and for a length of nothing.
 */
export function parseLength(text: string, rate: Rate): Frames | null {
  const trimmed = text.trim();
  if (trimmed === '') return null;
  const counted = /^(\d{1,7})\s*f$/i.exec(trimmed);
  const length = counted ? frames(Number(counted[1])) : parseDuration(trimmed.replace(/^(\d+)\s*s$/i, '$1'), rate);
  if (length === 0) throw new TimecodeError('range', 'label', 'A length of nothing is none.', 'Leave it empty for no length yet.');
  return length;
}

/** A length as `parseLength` reads it back: "0:40" where that is exact, under a second "18f", otherwise "0:04.12". */
export function lengthText(length: number, rate: Rate): string {
  const plain = formatDuration(length, rate);
  if (length > 0 && parseDuration(plain, rate) === length) return plain;
  return length < nominal(rate) ? `${length}f` : formatDuration(length, rate, { toFrame: true });
}

/**
 * Reads what a person puts at the end of a line: nothing, a length as `parseLength` reads it, two of them with a hyphen
 * or a dash between ("0:30-0:50", "18-24f"), or a share ("8%", "12.5 %"). Throws TimecodeError, in words.
 */
export function parseWish(text: string, rate: Rate): Wish {
  const trimmed = text.trim();
  const share = /^(\d{1,3})(?:[.,](\d{1,2}))?\s*%$/.exec(trimmed);
  if (share) return { kind: 'share', share: shareOf(Number(share[1]) * 100 + Number((share[2] ?? '').padEnd(2, '0'))) };
  const range = /^([^-–—]+)[-–—]([^-–—]+)$/.exec(trimmed);
  if (range) return rangeOf(range[1]!.trim(), range[2]!.trim(), rate);
  const length = parseLength(trimmed, rate);
  return length === null ? OPEN : { kind: 'fixed', frames: length };
}

/** A wish as `parseWish` reads it back: "", "0:40", "0:30-0:50", "8%", "12.5%". */
export function wishText(wish: Wish, rate: Rate): string {
  if (wish.kind === 'open') return '';
  if (wish.kind === 'share') return `${wish.share / 100}%`;
  return wish.kind === 'fixed' ? lengthText(wish.frames, rate) : `${lengthText(wish.min, rate)}-${lengthText(wish.max, rate)}`;
}

function shareOf(share: number): number {
  if (share >= 1 && share <= WHOLE) return share;
  throw new TimecodeError('range', 'label', `${share / 100}% is no share.`, 'A share goes from 0.01% to 100% of the part the line stands in.');
}

function rangeOf(from: string, to: string, rate: Rate): Wish {
  // "18-24f" counts both in frames; "30-50s" needs nothing, a bare number is seconds.
  const min = parseLength(/f$/i.test(to) && /^\d+$/.test(from) ? `${from}f` : from, rate);
  const max = parseLength(to, rate);
  const expected = 'Write the shortest length, a hyphen, and the longest: 0:30-0:50.';
  if (min === null || max === null) throw new TimecodeError('shape', 'label', 'A range has two lengths.', expected);
  if (min > max) throw new TimecodeError('range', 'label', `${from} is longer than ${to}.`, expected);
  return min === max ? { kind: 'fixed', frames: min } : { kind: 'range', min, max };
}
