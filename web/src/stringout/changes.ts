import type { Item } from '#contract/outline';
import type { Offer } from '#contract/offers';
import type { Levels } from '#contract/stringout';
import type { FilmState } from '../live/film-state.svelte.ts';
import { decide } from '../picks/deciding.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Puts another offer in the place of the one that plays: it is approved. */
export const putIn = (film: FilmState, slot: Item, offer: Offer): Promise<boolean> => decide(film, { slot, offer }, 'approve');

/** Sets how loud production sound and music are. */
export function setLevels(film: FilmState, levels: Levels): Promise<boolean> {
  const put = (what: Levels) => film.api.put<Levels>('/string-out/levels', what);
  return tried(
    () => put(levels),
    (before) => say('Levels set.', { undo: () => put(before), again: () => put(levels) }),
  );
}

/** Has what could not be made tried again. */
export const retry = (film: FilmState): Promise<boolean> => tried(() => film.api.post('/string-out/retry'), () => say('It is being tried again.'));
