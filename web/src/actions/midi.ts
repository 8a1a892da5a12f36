// What dials and buttons that speak MIDI say: the pure part. Messages are those of MIDI 1.0 (MIDI 1.0 Detailed
// Specification, 4.2, table I and II: 9n note on, velocity 0 is note off; Bn control change), whole, as Web MIDI hands them
// over (https://www.w3.org/TR/webmidi/).
import type { Control } from './controls.ts';

/**
 * How a control says that it moved: `press` (64 and above is down), `absolute` (where it stands, 0 to 127), or how far it
 * was turned, which makers count in three ways: from 0 with 127 for -1, from 64, or with the seventh bit as the sign
 * (common practice, no source).
 */
export const WAYS = ['press', 'absolute', 'from-zero', 'from-middle', 'sign-bit'] as const;
export type Way = (typeof WAYS)[number];

/** One or more strokes of a control. */
export interface Stroke {
  control: Control;
  times: number;
}

/** A control change: `dial` names the control whichever way it moves. */
export interface Turned {
  dial: string;
  value: number;
}

const NOTE_ON = 0x90;
const CONTROL_CHANGE = 0xb0;
const HALF = 64;

/** The stroke that a note is; null for the end of one, and for anything else. */
export function noteOf(message: ArrayLike<number>): Stroke | null {
  const [status = 0, note, velocity = 0] = Array.from(message);
  return (status & 0xf0) === NOTE_ON && velocity > 0 ? { control: `midi:${channelOf(status)}/note-${note}`, times: 1 } : null;
}

/** What a control change says; null for any other message. */
export function turnOf(message: ArrayLike<number>): Turned | null {
  const [status = 0, number, value = 0] = Array.from(message);
  return (status & 0xf0) === CONTROL_CHANGE ? { dial: `midi:${channelOf(status)}/cc-${number}`, value } : null;
}

const channelOf = (status: number): number => (status & 0x0f) + 1;

/**
 * How far a dial was turned, in its own notches, plus to the right; 0 for nothing, a release, or a place that is not known yet.
 * @param before the value it said last.
 */
export function notches(way: Way, value: number, before: number | undefined): number {
  if (way === 'press') return value >= HALF ? 1 : 0;
  if (way === 'absolute') return before === undefined ? 0 : value - before;
  if (way === 'from-zero') return value < HALF ? value : value - 128;
  if (way === 'from-middle') return value - HALF;
  return value < HALF ? value : HALF - value;
}

/** The stroke of a dial that was turned by so many notches; a press has one way only. */
export function strokeOf(dial: string, way: Way, turned: number): Stroke | null {
  if (turned === 0) return null;
  const control: Control = way === 'press' ? (dial as Control) : `${dial as Control}${turned > 0 ? '+' : '-'}`;
  return { control, times: Math.abs(turned) };
}

/** Fewer values than this can mean anything. */
const ENOUGH = 6;
/** A place moves on by less than this between two messages, also when turned fast. */
const LEAP = 24;

/**
 * The way a control counts, from what it said while it was pressed, or turned a few notches one way and then back.
 * @returns null while that is not certain.
 */
export function wayOf(values: readonly number[]): Way | null {
  const down = values.filter((value) => value > 0);
  // A button: one value going down, nothing coming up, in turn.
  if (values.length >= 2 && values.at(-1) === 0 && down.length > 0 && new Set(down).size === 1 && down[0]! >= HALF && values.every((value, n) => n === 0 || (value === 0) !== (values[n - 1] === 0))) return 'press';
  if (values.length < ENOUGH) return null;
  const steps = values.slice(1).map((value, n) => Math.abs(value - values[n]!));
  const stood = steps.includes(0);
  // Whoever says places says each only once, never leaps, and comes where no dial that counts from 0 or 64 ever is.
  if (!stood && Math.max(...steps) < LEAP) return values.some((value) => !isNearZeroOrMiddle(value)) ? 'absolute' : fromMiddle(values, steps);
  if (values.includes(0)) return null;
  const low = values.some((value) => value < HALF / 2);
  if (low && values.some((value) => value >= HALF + HALF / 2)) return 'from-zero';
  if (low && values.some((value) => value > HALF)) return 'sign-bit';
  return bothSides(values) ? 'from-middle' : null;
}

/** For what was never said twice in a row: on both sides of the middle, never at it, and not simply on its way past it. */
function fromMiddle(values: readonly number[], steps: readonly number[]): Way | null {
  const oneWay = steps.reduce((sum, step) => sum + step, 0) === Math.abs(values.at(-1)! - values[0]!);
  return bothSides(values) && !values.includes(HALF) && !oneWay ? 'from-middle' : null;
}

const bothSides = (values: readonly number[]): boolean => values.some((value) => value < HALF) && values.some((value) => value > HALF);

/** Notches that a hand turns between two messages. */
const FAST = 15;
const isNearZeroOrMiddle = (value: number): boolean => Math.min(value, Math.abs(value - HALF), 128 - value) <= FAST;
