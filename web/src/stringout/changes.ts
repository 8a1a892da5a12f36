import type { Item } from '#contract/outline';
import type { Offer } from '#contract/offers';
import type { Levels } from '#contract/stringout';
import type { FilmState } from '../live/film-state.svelte.ts';
import { decide } from '../picks/deciding.ts';
import { nudged } from '../strip/trimming.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Trims that follow one another this closely are one, and are taken back as one. */
const SERIES_MS = 1500;
let series: { id: string; at: number } | null = null;

/** Moves in or out of the take of a shot by frames; it shows at once, and the film plays it when its piece is made. */
export function trimShot(film: FilmState, offer: Offer, by: { in?: number; out?: number }): void {
  const frames = film.clips.get(offer.clipId)?.frames;
  if (!frames) return;
  const stroke = ({ in: first, outExclusive }: Pick<Offer, 'in' | 'outExclusive'>) =>
    ({ method: 'PATCH', path: `/offers/${offer.id}`, body: { in: first, outExclusive }, words: 'The trim', shows: { table: 'offers', id: offer.id, fields: { in: first, outExclusive } } }) as const;
  const goesOn = series?.id === offer.id && Date.now() - series.at < SERIES_MS;
  const trim = nudged(offer, by, frames);
  if (goesOn) film.strokes.goOn(stroke(trim));
  else {
    film.strokes.do(stroke(trim));
    say('Take trimmed.', { undo: () => film.strokes.do(stroke(offer)) });
  }
  series = { id: offer.id, at: Date.now() };
}

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
