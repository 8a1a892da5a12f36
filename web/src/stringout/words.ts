import type { StringOutStretch } from '#contract/stringout';
import type { FilmState } from '../live/film-state.svelte.ts';

/** How a shot stands, in words. */
export function wordsOf(film: FilmState, { take, state, lineId }: StringOutStretch): string {
  if (state === 'waits') return 'its proxy is being made';
  if (state === 'failed') return 'could not be put in';
  if (!take) return 'a card';
  if (take.approved) return 'approved';
  const others = film.offersOf(lineId).filter(({ verdict }) => verdict !== 'pass').length;
  return others > 1 ? `best of ${others} offers` : 'offered';
}

/** How far a version is that is being made. */
export const makingWords = ({ ready, total }: { ready: number; total: number }): string => (ready < total ? `${ready} of ${total} pieces are there` : 'its sound is being mixed');
