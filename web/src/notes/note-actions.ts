import type { Note } from '#contract/notes';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Settles an open note, or opens a settled one again; can be undone. */
export async function turn(film: FilmState, note: Note): Promise<void> {
  const path = (step: 'settle' | 'reopen') => `/notes/${note.id}/${step}`;
  const [step, back] = note.settledAt ? (['reopen', 'settle'] as const) : (['settle', 'reopen'] as const);
  await tried(
    () => film.api.post(path(step)),
    () => say(note.settledAt ? 'Note opened again.' : 'Note settled.', { undo: () => film.api.post(path(back)) }),
  );
}

/** Removes a note with what hangs below it; can be undone. */
export async function remove(film: FilmState, note: Note): Promise<void> {
  await tried(
    () => film.api.del(`/notes/${note.id}`),
    () => say(note.parentId ? 'Reply removed.' : 'Note removed.', { undo: () => film.api.post(`/notes/${note.id}/restore`) }),
  );
}
