import type { Item } from '#contract/outline';
import type { Conflict } from '#core/budget.ts';
import type { Line } from '#core/outline.ts';
import type { Rate } from '#core/rate.ts';
import { formatDuration } from '#core/timecode.ts';

export type ItemLine = Line<Item>;

/** What a line is called: a part is a sequence at the top level and a subsequence inside. */
export function kindWord({ row, depth }: { row: { kind: 'part' | 'slot' }; depth: number }): string {
  if (row.kind === 'slot') return 'Slot';
  return depth === 0 ? 'Sequence' : 'Subsequence';
}

/** A line by its name, or by what it is while it has none. */
export const nameOf = (line: Pick<ItemLine, 'row' | 'depth' | 'label'>): string => line.row.name.trim() || `${kindWord(line)} ${line.label}`;

/** A length in a sentence: "6 s", "2:05", "9 frames". */
export function amountWords(length: number, rate: Rate): string {
  const seconds = Math.round((length * rate.den) / rate.num);
  if (seconds === 0) return length === 1 ? '1 frame' : `${length} frames`;
  return seconds < 60 ? `${seconds} s` : formatDuration(length, rate);
}

/** What does not add up in a place, as a sentence: "The crossing is 6 s over." */
export const conflictWords = (name: string, { kind, frames }: Conflict, rate: Rate): string => `${name} is ${amountWords(frames, rate)} ${kind}.`;
