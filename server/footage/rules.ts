import type { Prisma } from '#prisma';
import { Refusal } from '../platform/errors.ts';
import type { ClipChange, ClipFailure } from './contract.ts';

/** The columns a change sets. @throws Refusal `bad-input` when the day is not one of the calendar. */
export function columnsOf({ camera, card, location, shootDay }: ClipChange): Pick<Prisma.ClipUpdateManyMutationInput, 'camera' | 'card' | 'location' | 'shootDay'> {
  return {
    ...(camera === undefined ? {} : { camera: camera.trim() }),
    ...(card === undefined ? {} : { card: card.trim() }),
    ...(location === undefined ? {} : { location: location.trim() }),
    ...(shootDay === undefined ? {} : { shootDay: shootDay === null ? null : calendarDay(shootDay) }),
  };
}

function calendarDay(text: string): Date {
  const day = new Date(`${text}T00:00:00Z`);
  // Some engines carry 31 February over into March instead of refusing it.
  if (Number.isNaN(day.getTime()) || day.toISOString().slice(0, 10) !== text)
    throw new Refusal('bad-input', `${text} is not a day of the calendar; write it as 2026-05-31.`, {
      fields: [{ field: 'shootDay', why: 'is not a day of the calendar' }],
    });
  return day;
}

/** @throws Refusal `cannot-retry` unless the proxy failed and trying again can help. */
export function checkRetry({ state, failure }: { state: string; failure: ClipFailure | null }): void {
  if (state !== 'failed') throw new Refusal('cannot-retry', `The proxy is ${state}, not failed.`);
  if (failure?.mayRetry === false) throw new Refusal('cannot-retry', `Trying again would end the same way: ${failure.reason}`);
}

/** @throws Refusal `bad-range` for a stretch that ends before it begins. */
export function checkRanges(ranges: readonly (readonly [number, number])[]): void {
  const wrong = ranges.findIndex(([first, end]) => end <= first);
  if (wrong !== -1)
    throw new Refusal('bad-range', `Stretch ${wrong} ends before it begins; write [in, outExclusive].`, {
      fields: [{ field: `ranges.${wrong}`, why: 'outExclusive must be greater than in' }],
    });
}
