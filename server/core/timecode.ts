import { frames, type Frames, type Loose } from './brand.ts';
import { ceilDivide, nearestDivide } from './fraction.ts';
import { nominal, rateText, type Rate } from './rate.ts';

/*
 * Time as people read and write it: timecode labels, and lengths.
 * Counting of labels: SMPTE ST 12-1:2014. Drop-frame counting removes labels, never frames.
 */

/** What a label counts on: the rate of the clip, the frame number of its first frame, and how labels are counted. */
export type Clock = { readonly rate: Rate; readonly startFrame: Loose<Frames>; readonly drop: boolean };

export type TimecodeCode =
  | 'shape' // not the fields of a label or of a length
  | 'negative' // a minus in front
  | 'range' // a field counts too far
  | 'absent-label' // one of the labels that drop-frame leaves out
  | 'drop-mark' // drop-frame where the rate, or the clip, is not counted so
  | 'outside-clip'; // a good label of a frame that the clip does not have

export type TimecodeField = 'label' | 'hours' | 'minutes' | 'seconds' | 'frames' | 'mark';

/** A label or length that cannot be read: `field` is where, `message` why, `expected` what would be right. */
export class TimecodeError extends Error {
  readonly code: TimecodeCode;
  readonly field: TimecodeField;
  readonly expected: string;
  constructor(code: TimecodeCode, field: TimecodeField, why: string, expected: string) {
    super(`${why} ${expected}`);
    this.name = 'TimecodeError';
    this.code = code;
    this.field = field;
    this.expected = expected;
  }
}

/** Whether drop-frame counting is defined for a rate: 29.97 and 59.94 only. */
export const canDrop = ({ num, den }: Rate): boolean => num * 1001 === den * 30000 || num * 1001 === den * 60000;

/** Labels left out at the start of a minute that is not a tenth one: 2 at 29.97, 4 at 59.94, otherwise 0. */
function droppedPerMinute(rate: Rate, drop: boolean): number {
  if (!drop) return 0;
  if (canDrop(rate)) return nominal(rate) / 15;
  throw new TimecodeError(
    'drop-mark',
    'mark',
    `Drop-frame counting does not exist at ${rateText(rate)}.`,
    'It is defined for 29.97 and 59.94; write ":" before the frames.',
  );
}

const pad = (n: number, width = 2) => String(n).padStart(width, '0');
const frameWidth = (perSecond: number) => Math.max(2, String(perSecond - 1).length);

/** Frames in 24 hours of labels, after which they begin again. Throws TimecodeError for drop at a rate without. */
export function dayFrames(rate: Rate, drop: boolean): Frames {
  const minutes = 24 * 60;
  return frames(minutes * 60 * nominal(rate) - droppedPerMinute(rate, drop) * (minutes - minutes / 10));
}

/**
 * The label of a frame number, "HH:MM:SS:FF", or "HH:MM:SS;FF" when counted with drop. Labels begin again after
 * 24 hours, in both directions. Throws TimecodeError for drop at a rate that has none, RangeError for half a frame.
 */
export function formatTimecode(frame: Loose<Frames>, rate: Rate, { drop = false }: { drop?: boolean } = {}): string {
  const dropped = droppedPerMinute(rate, drop);
  const perSecond = nominal(rate);
  const day = dayFrames(rate, drop);
  let label = ((frames(frame) % day) + day) % day;
  if (dropped > 0) {
    // Ten minutes hold one whole minute, then nine short ones.
    const whole = perSecond * 60;
    const ten = whole * 10 - dropped * 9;
    const past = label % ten;
    const shortMinutes = past < whole ? 0 : 1 + Math.floor((past - whole) / (whole - dropped));
    label += dropped * (9 * Math.floor(label / ten) + shortMinutes);
  }
  const second = Math.floor(label / perSecond);
  const minute = Math.floor(second / 60);
  const hms = `${pad(Math.floor(minute / 60))}:${pad(minute % 60)}:${pad(second % 60)}`;
  return `${hms}${drop ? ';' : ':'}${pad(label % perSecond, frameWidth(perSecond))}`;
}

const LABEL = /^(\d\d):(\d\d):(\d\d)([:;])(\d{2,})$/;

function readFields(label: string, rate: Rate) {
  const perSecond = nominal(rate);
  const width = frameWidth(perSecond);
  const match = LABEL.exec(label);
  if (match?.[5]?.length !== width) {
    const shape = `Write hours, minutes, seconds and frames, as in 01:02:03:${pad(4, width)}.`;
    if (/^[-−]/.test(label)) throw new TimecodeError('negative', 'label', 'A timecode is never negative.', shape);
    throw new TimecodeError('shape', 'label', `"${label}" is not a timecode.`, shape);
  }
  const read = { h: Number(match[1]), m: Number(match[2]), s: Number(match[3]), mark: match[4], f: Number(match[5]) };
  if (read.h > 23) throw outOfRange('hours', read.h, 23);
  if (read.m > 59) throw outOfRange('minutes', read.m, 59);
  if (read.s > 59) throw outOfRange('seconds', read.s, 59);
  if (read.f >= perSecond) throw outOfRange('frames', read.f, perSecond - 1, ` at ${rateText(rate)}`);
  return read;
}

const outOfRange = (field: TimecodeField, value: number, last: number, where = '') =>
  new TimecodeError('range', field, `The ${field} are ${value}.`, `They go from 00 to ${last}${where}.`);

/**
 * The frame number a label names, and whether it was counted with drop.
 *
 * Without `drop` the mark before the frames says how the label is counted. Where it is known, say so: with
 * `drop: true` a ":" is read as ";", as hands type it; with `drop: false` a ";" is refused.
 * Throws TimecodeError, which names the field and what would be right.
 */
export function parseTimecode(
  label: string,
  rate: Rate,
  { drop }: { drop?: boolean | undefined } = {},
): { frame: Frames; drop: boolean } {
  const { h, m, s, mark, f } = readFields(label.trim(), rate);
  if (mark === ';' && drop === false) {
    throw new TimecodeError('drop-mark', 'mark', 'This is counted without drop.', 'Write ":" before the frames.');
  }
  const counted = drop ?? mark === ';';
  const dropped = droppedPerMinute(rate, counted);
  if (s === 0 && m % 10 !== 0 && f < dropped) {
    const minute = `${pad(h)}:${pad(m)}:00`;
    throw new TimecodeError(
      'absent-label',
      'frames',
      `Drop-frame counting leaves out ${minute};${pad(f)}.`,
      `The first frame of that minute is ${minute};${pad(dropped)}.`,
    );
  }
  const minutes = h * 60 + m;
  const labels = (minutes * 60 + s) * nominal(rate) + f;
  return { frame: frames(labels - dropped * (minutes - Math.floor(minutes / 10))), drop: counted };
}

/** The label of a frame of a clip. */
export const timecodeOf = (clipFrame: Loose<Frames>, { rate, startFrame, drop }: Clock): string =>
  formatTimecode(startFrame + clipFrame, rate, { drop });

/**
 * The frame of a clip that carries a label: the inverse of `timecodeOf`, across midnight too.
 * `length` is the clip's, in frames. Throws TimecodeError, also for a label the clip does not reach.
 */
export function frameOfTimecode(label: string, { rate, startFrame, drop }: Clock, length: Loose<Frames>): Frames {
  const day = dayFrames(rate, drop);
  const { frame } = parseTimecode(label, rate, { drop });
  const clipFrame = (((frame - startFrame) % day) + day) % day;
  if (clipFrame < length) return frames(clipFrame);
  const [first, last] = [startFrame, startFrame + length - 1].map((n) => formatTimecode(n, rate, { drop }));
  throw new TimecodeError(
    'outside-clip',
    'label',
    `The clip has no frame ${label.trim()}.`,
    length > 0 ? `It runs from ${first} to ${last}.` : 'It has no frames yet.',
  );
}

/** The most frames that begin within a second: nominal at standard rates, one more at some odd ones. */
const mostPerSecond = ({ num, den }: Rate): number => Math.ceil(num / den);

/** The frame that begins nearest to a whole second of real time, halves up. */
const frameOfSecond = (s: number, { num, den }: Rate): number =>
  Number(nearestDivide(BigInt(s) * BigInt(num), BigInt(den)));

/**
 * A length for people, in real time whatever the labels say: "0:41", "1:02:03", with `toFrame` "0:04.12" (the second
 * and the frames past it). Without `toFrame` it is the nearest second, halves up. A negative one begins with "-".
 */
export function formatDuration(
  length: Loose<Frames>,
  rate: Rate,
  { toFrame = false }: { toFrame?: boolean } = {},
): string {
  const n = Math.abs(length);
  // The last second whose nearest frame is not after frame n, so that second and frames add up to n again.
  const whole = Number(ceilDivide(BigInt(2 * n + 1) * BigInt(rate.den), 2n * BigInt(rate.num))) - 1;
  const nearest = Number(nearestDivide(BigInt(n) * BigInt(rate.den), BigInt(rate.num)));
  const s = toFrame ? whole : nearest;
  const tail = toFrame ? `.${pad(n - frameOfSecond(s, rate), frameWidth(mostPerSecond(rate)))}` : '';
  const head = s < 3600 ? String(Math.floor(s / 60)) : `${Math.floor(s / 3600)}:${pad(Math.floor(s / 60) % 60)}`;
  const sign = length < 0 && (toFrame || s > 0) ? '-' : '';
  return `${sign}${head}:${pad(s % 60)}${tail}`;
}

/**
 * Reads a length: seconds ("90"), "0:41", "1:02:03", and to the frame "0:04.12". The first field may be as large as
 * it likes ("90:00"). The inverse of `formatDuration` with `toFrame`. Throws TimecodeError.
 */
export function parseDuration(text: string, rate: Rate): Frames {
  const most = mostPerSecond(rate);
  const width = frameWidth(most);
  const shape = `Write seconds, m:ss or h:mm:ss, and frames after a point: 41, 0:41, 1:02:03, 0:04.${pad(12, width)}.`;
  const trimmed = text.trim();
  if (/^[-−]/.test(trimmed)) throw new TimecodeError('negative', 'label', 'A length is never negative.', shape);
  const match = new RegExp(`^(?:(\\d{1,5})|(?:(\\d{1,3}):)?(\\d{1,3}):(\\d\\d)(?:\\.(\\d{${width}}))?)$`).exec(trimmed);
  if (!match) throw new TimecodeError('shape', 'label', `"${trimmed}" is not a length.`, shape);
  const [bare = 0, h = 0, m = 0, s = 0, f = 0] = match.slice(1).map((field) => Number(field ?? 0));
  if (match[2] !== undefined && m > 59) throw outOfRange('minutes', m, 59);
  if (s > 59) throw outOfRange('seconds', s, 59);
  if (f >= most) throw outOfRange('frames', f, most - 1, ` at ${rateText(rate)}`);
  return frames(frameOfSecond(bare + h * 3600 + m * 60 + s, rate) + f);
}
