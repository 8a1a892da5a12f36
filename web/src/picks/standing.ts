import type { Offer } from '#contract/offers';
import type { FilmState } from '../live/film-state.svelte.ts';

/** What stands in a slot for now: its pick, or else the first offer that nobody passed on; null when there is none. */
export function standsIn(film: FilmState, slotId: string): Offer | null {
  return film.pickOf(slotId) ?? film.offersOf(slotId).find(({ verdict }) => verdict !== 'pass') ?? null;
}

/** Whether a slot waits for a verdict: something is on offer that nobody has decided, and nothing is picked. */
export function isUndecided(film: FilmState, slotId: string): boolean {
  return film.pickOf(slotId) === null && film.offersOf(slotId).some(({ verdict }) => verdict === 'open');
}
