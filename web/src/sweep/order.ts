import type { Clip } from '#contract/footage';
import { layOut } from '../footage/table.ts';
import type { FilmState } from '../live/film-state.svelte.ts';

/** The clips of a film in the order they are swept, which is that of the footage table: by day, camera and capture. */
export function sweepOrder(film: FilmState): Clip[] {
  return layOut(film.clips.values()).days.flatMap(({ cells }) => cells.flat());
}

/** Whether somebody has seen all of it, or found nothing usable in it. */
export function isSeen(film: FilmState, clip: Clip): boolean {
  const crew = film.seen.get(clip.id)?.crew ?? [];
  return clip.aside !== null || (clip.frames !== null && crew.length === 1 && crew[0]![0] === 0 && crew[0]![1] >= clip.frames);
}
