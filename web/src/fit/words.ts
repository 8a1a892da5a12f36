import type { Mark } from '#contract/music';
import { momentOf, type FitKind, type Landing } from '#core/fit-marks.ts';
import type { Unmet } from '#core/fit-problem.ts';
import type { Rate } from '#core/rate.ts';
import { formatDuration } from '#core/timecode.ts';
import { lengthText } from '#core/wish.ts';
import { KIND_WORDS, momentWords } from '../music/words.ts';
import { amountWords } from '../outline/words.ts';
import type { Fitted, Outcome } from './fitting.svelte.ts';

export const FIT_KIND_WORDS: Record<FitKind, string> = { turn: 'Turns', named: 'Named marks', hit: 'Hits', build: 'Builds, where they end', bar: 'First beats of bars', beat: 'Every beat' };

export const NEAR_OPTIONS = [
  { value: '0', label: 'on the frame of the mark' },
  { value: '1', label: 'up to 1 frame beside it' },
  { value: '2', label: 'up to 2 frames beside it' },
] as const;

/** A moment of the film to the frame: "0:40.12". */
export const frameWords = (frame: number, rate: Rate): string => formatDuration(frame, rate, { toFrame: true });

/** "12 of 31 changes land on marks of “Tide clock”; before 3." */
export function landedWords({ changes, landedAfter, landedBefore }: Outcome, title: string): string {
  if (changes === 0) return 'There is one line, so there is no change to land on a mark.';
  return `${landedAfter} of ${changes} ${changes === 1 ? 'change lands' : 'changes land'} on marks of “${title}”; before ${landedBefore}.`;
}

/** "24 lines change their length, by 3 s at most." */
export function movedWords({ moved, most }: Outcome, rate: Rate): string {
  if (moved === 0) return 'No length changes.';
  return `${moved === 1 ? 'One line changes its' : `${moved} lines change their`} length, by ${amountWords(most, rate)} at most.`;
}

/** What a change lands on: "Hit at 0:12.500", "rising, to 2:35.000, 1 frame late"; "no mark". */
export function landingWords(landing: Landing | null, mark: Mark | undefined): string {
  if (!landing || !mark) return 'no mark';
  const { kind, name } = mark;
  const beside = landing.off === 0 ? '' : `, ${Math.abs(landing.off)} ${Math.abs(landing.off) === 1 ? 'frame' : 'frames'} ${landing.off > 0 ? 'late' : 'early'}`;
  return `${name || KIND_WORDS[kind]}${kind === 'build' ? ', to' : ' at'} ${momentWords(momentOf(mark))}${beside}`;
}

/** Why a tie is not kept: what it asks, where its line could begin, and how much is missing. */
export function unmetWords({ frame, first, last }: Unmet, line: string, mark: string, rate: Rate): string {
  const missing = amountWords(frame < first ? first - frame : frame - last, rate);
  const could = first === last ? `at ${frameWords(first, rate)}` : `from ${frameWords(first, rate)} to ${frameWords(last, rate)}`;
  return `${line} is tied to ${mark}, ${frameWords(frame, rate)} in the film, and cannot begin there: with what the lengths may be, and the firmer ties, it begins ${could}. That is ${missing} out of reach.`;
}

/** A length before and after: "0:08 → 0:07.12", or once when it stays. */
export const lengthsWords = ({ before, after }: Fitted, rate: Rate): string =>
  before.frames === after.frames ? `${lengthText(before.frames, rate)}, stays` : `${lengthText(before.frames, rate)} → ${lengthText(after.frames, rate)}`;

/** A beginning before and after. */
export const startsWords = ({ before, after }: Fitted, rate: Rate): string =>
  before.start === after.start ? `${frameWords(before.start, rate)}, stays` : `${frameWords(before.start, rate)} → ${frameWords(after.start, rate)}`;
