import type { Item, SeenLine } from '#contract/outline';
import { branchOf } from '#core/outline.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { Doing } from '../ui/say.svelte.ts';
import type { ItemLine } from './words.ts';

/** Lines and all in them, as they stand on the page: what a person sees who takes them away. */
export function sawOf(lines: readonly ItemLine[]): SeenLine[] {
  const rows = new Set(lines.flatMap((line) => branchOf(line).map(({ row }) => row)));
  return [...rows].map(({ id, name, mustShow, comesIn, goesOut, wish }) => ({ id, name, mustShow, comesIn, goesOut, wish }));
}

/**
 * Taking back lines that were put in whole, and doing it again. What others wrote in them since and this page does not
 * show yet keeps them; what somebody removed since is left out.
 * @param linesNow the lines on the page at the moment of taking back
 */
export function takingBack(film: FilmState, items: readonly Item[], linesNow: () => readonly ItemLine[]): Doing {
  const here = new Set(items.map(({ id }) => id));
  const tops = new Set(items.filter(({ parentId }) => parentId === null || !here.has(parentId)).map(({ id }) => id));
  let removalId = '';
  return {
    undo: async () => {
      const standing = linesNow().filter(({ row }) => tops.has(row.id));
      if (standing.length === 0) throw new Error('These lines are removed already.');
      ({ removalId } = await film.api.post<{ removalId: string }>('/removals', { items: standing.map(({ row }) => row.id), saw: sawOf(standing) }));
    },
    again: () => film.api.post(`/removals/${removalId}/undo`),
  };
}
