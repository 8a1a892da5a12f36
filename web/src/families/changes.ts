import type { FamiliesChanged } from '#contract/families';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';
import type { Change } from './joining.ts';

/** Makes families hold what they are to hold, says so, and can take it back and do it again. */
export async function changeFamilies(film: FilmState, changes: Change[], words: string): Promise<void> {
  const send = (what: Change[]) => film.api.post<FamiliesChanged>('/families', { changes: what });
  await tried(
    () => send(changes),
    ({ previous }) => {
      let [back, forth] = [previous, changes];
      say(words, {
        undo: async () => {
          forth = (await send(back)).previous;
        },
        again: async () => {
          back = (await send(forth)).previous;
        },
      });
    },
  );
}
