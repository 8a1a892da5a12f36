import type { Offer } from '#contract/offers';
import { bestOffer } from '#core/string-out.ts';
import type { FilmState } from '../live/film-state.svelte.ts';

/** What stands in a slot for now, as the string-out plays it; null when there is nothing. */
export const standsIn = (film: FilmState, slotId: string): Offer | null => bestOffer(film.offersOf(slotId));

/** Whether a slot waits for a verdict: something is on offer that nobody has decided, and nothing is picked. */
export function isUndecided(film: FilmState, slotId: string): boolean {
  return film.pickOf(slotId) === null && film.offersOf(slotId).some(({ verdict }) => verdict === 'open');
}
