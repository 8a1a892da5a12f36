import { frames, millis, seconds, type Frames, type Loose, type Millis, type Seconds } from './brand.ts';
import { greatestDivisor, nearestDivide } from './fraction.ts';

/** Frames per second as an exact fraction: 23.976 is `{ num: 24000, den: 1001 }`. */
export type Rate = { readonly num: number; readonly den: number };

/** Frames per second as an exact fraction in lowest terms. Throws RangeError unless both are whole and positive. */
export function rate(num: number, den = 1): Rate {
  for (const n of [num, den]) {
    if (Number.isSafeInteger(n) && n > 0) continue;
    throw new RangeError(`A rate is two whole positive numbers; got ${num}/${den}.`);
  }
  const divisor = greatestDivisor(num, den);
  return Object.freeze({ num: num / divisor, den: den / divisor });
}

/** The standard rates, slowest first. Source: SMPTE ST 12-1:2014 and the list of rates in OpenTimelineIO. */
export const RATES: readonly Rate[] = Object.freeze([
  rate(24000, 1001),
  rate(24),
  rate(25),
  rate(30000, 1001),
  rate(30),
  rate(48000, 1001),
  rate(48),
  rate(50),
  rate(60000, 1001),
  rate(60),
]);

// The step from 24 to 24000/1001 is the finest there is between standard rates:
// a rate farther than that from all of them is none of them, only odd.
const SNAP = 1 / 1001;

/**
 * The standard rate that a measured or rounded one stands for: 23.98 is 24000/1001, 30.01 is 30.
 * Null where none is within one part in 1001 (15, 29.5, 120, anything not positive).
 */
export function nearestRate(fps: number | Rate): Rate | null {
  const value = typeof fps === 'number' ? fps : fps.num / fps.den;
  const distance = (r: Rate) => Math.abs((value * r.den) / r.num - 1);
  const best = RATES.reduce((a, b) => (distance(b) < distance(a) ? b : a));
  return distance(best) <= SNAP ? best : null;
}

/** Whether two rates are the same number, in lowest terms or not. */
export const sameRate = (a: Rate, b: Rate): boolean => BigInt(a.num) * BigInt(b.den) === BigInt(b.num) * BigInt(a.den);

/** Timecode labels in a second, which is also the length of a proxy's group: 24 for 23.976, 30 for 29.97. */
export const nominal = (r: Rate): number => Math.max(1, Math.round(r.num / r.den));

/** The rate as crews write it, at most three decimals: "23.976", "25", "29.97". */
export const rateText = (r: Rate): string => String(Number((r.num / r.den).toFixed(3)));

/** When frame `n` begins, in seconds from the beginning of frame 0. */
export const frameStartSeconds = (n: Loose<Frames>, r: Rate): Seconds => seconds((n * r.den) / r.num);

/** The middle of frame `n` in seconds: the place to seek to, since no rounding there can land on a neighbour. */
export const middleOfFrameSeconds = (n: Loose<Frames>, r: Rate): Seconds => seconds(((n + 0.5) * r.den) / r.num);

// Browsers and ffmpeg's own clock keep media time in microseconds, so a start may read this much early.
const MICROSECOND = 1e-6;

/**
 * The frame on screen at a moment, counted from the beginning of frame 0. A moment less than a microsecond
 * before a frame begins belongs to that frame. For whole milliseconds that were made from a frame, and so may lie
 * half a millisecond early, use `millisToFrames`. Throws RangeError for a time that is not finite.
 */
export function frameAt(
  time: { readonly seconds: Loose<Seconds> } | { readonly millis: Loose<Millis> },
  r: Rate,
): Frames {
  const at = 'seconds' in time ? time.seconds : time.millis / 1000;
  return frames(Math.floor(((at + MICROSECOND) * r.num) / r.den));
}

/**
 * The frame whose beginning a media timestamp names, as `mediaTime` of requestVideoFrameCallback or the `pts_time`
 * of a packet does. Such times are rounded to the timescale of the file, so the nearest beginning is meant: right
 * while the rounding is under half a frame. Throws RangeError for a time that is not finite.
 */
export const frameFromMediaTime = (time: Loose<Seconds>, r: Rate): Frames => frames(Math.round((time * r.num) / r.den));

/** When frame `n` begins, to the nearest millisecond. `millisToFrames` leads back up to 500 frames a second. */
export const framesToMillis = (n: Loose<Frames>, r: Rate): Millis =>
  millis(Number(nearestDivide(BigInt(n) * 1000n * BigInt(r.den), BigInt(r.num))));

/** The frame that begins nearest to a whole millisecond, halves up. Throws RangeError for a broken millisecond. */
export const millisToFrames = (ms: Loose<Millis>, r: Rate): Frames =>
  frames(Number(nearestDivide(BigInt(ms) * BigInt(r.num), 1000n * BigInt(r.den))));

/** A count of frames at one rate as the nearest count of the same real time at another, exactly, halves up. */
export const convertFrames = (n: Loose<Frames>, from: Rate, to: Rate): Frames =>
  frames(Number(nearestDivide(BigInt(n) * BigInt(from.den) * BigInt(to.num), BigInt(from.num) * BigInt(to.den))));
