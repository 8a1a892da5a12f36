import type { Budget } from '#core/budget.ts';
import type { Rate } from '#core/rate.ts';
import { lengthText } from '#core/wish.ts';
import { amountWords, conflictWords, nameOf, type ItemLine } from './words.ts';

/** A line that gets another length, in frames. */
export interface Change {
  readonly line: ItemLine;
  readonly before: number;
  readonly after: number;
}

/** The lines whose length differs between two budgets, from top to bottom. */
export function changesBetween(lines: readonly ItemLine[], before: Budget, after: Budget): Change[] {
  return lines.flatMap((line) => {
    const [was, is] = [before, after].map(({ lines: all }) => all.get(line.row.id)?.frames ?? 0) as [number, number];
    return was === is ? [] : [{ line, before: was, after: is }];
  });
}

/** A change in words: "The crossing gives 6 s, and gets 0:44." */
export function changeWords({ line, before, after }: Change, rate: Rate): string {
  const by = amountWords(Math.abs(after - before), rate);
  return `${nameOf(line)} ${after < before ? 'gives' : 'gains'} ${by}: ${after === 0 ? 'nothing is left of it' : lengthText(after, rate)}.`;
}

/** What stops adding up, and what begins to. */
export function conflictChanges(lines: readonly ItemLine[], before: Budget, after: Budget, rate: Rate): string[] {
  const name = (id: string | null): string => {
    const line = lines.find(({ row }) => row.id === id);
    return line ? nameOf(line) : 'The film';
  };
  const key = ({ id, kind, frames }: Budget['conflicts'][number]) => `${id} ${kind} ${frames}`;
  const [old, now] = [new Set(before.conflicts.map(key)), new Set(after.conflicts.map((one) => one.id))];
  return [
    ...after.conflicts.filter((one) => !old.has(key(one))).map((one) => conflictWords(name(one.id), one, rate)),
    ...before.conflicts.filter(({ id }) => !now.has(id)).map(({ id }) => `${name(id)} adds up.`),
  ];
}
