import type { Rows } from '#contract/live';
import type { Track, TrackChange } from '#contract/music';
import { ApiProblem } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/**
 * Runs one change and waits until the page has it, so that what is done next, or taken back, begins from there.
 * @param shows whether the rows of an event are those of the change
 * @returns what the change answered; throws what it throws.
 */
export async function shown<T>(film: FilmState, shows: (rows: Rows) => boolean, change: () => Promise<T>): Promise<T> {
  let stop = () => {};
  const seen = new Promise<void>((resolve) => {
    stop = film.listen(({ rows }) => shows(rows) && resolve());
  });
  try {
    const answer = await change();
    await seen;
    return answer;
  } finally {
    stop();
  }
}

const showsTrack = (track: Track) => (rows: Rows): boolean => rows.tracks?.some(({ id }) => id === track.id) ?? false;

/** Sets words or rights of a track, with undo. */
export async function setWords(film: FilmState, track: Track, change: TrackChange): Promise<void> {
  const before = Object.fromEntries((Object.keys(change) as (keyof TrackChange)[]).map((field) => [field, track[field]]));
  await tried(
    () => film.api.patch(`/tracks/${track.id}`, change),
    () => say(`Set for “${track.title}”.`, { undo: () => film.api.patch(`/tracks/${track.id}`, before) }),
  );
}

export async function removeTrack(film: FilmState, track: Track): Promise<void> {
  await tried(
    () => film.api.del(`/tracks/${track.id}`),
    () => say(`“${track.title}” taken out of the film.`, { undo: () => film.api.post(`/tracks/${track.id}/restore`) }),
  );
}

/** Works on a track again: after a failure, or to have it analysed anew. */
export async function workAgain(film: FilmState, track: Track): Promise<void> {
  await tried(
    () => film.api.post(`/tracks/${track.id}/retry`),
    () => say(`“${track.title}” is worked on again.`),
  );
}

/** Chooses the music of the film; the undo gives the former choice back. */
export async function lockTrack(film: FilmState, track: Track): Promise<void> {
  const before = film.lockedTrack;
  await tried(
    () => toldWhoWasFirst(film, track, () => film.api.post(`/tracks/${track.id}/lock`, { instead: before?.id ?? null })),
    () =>
      say(`“${track.title}” is the music of the film.${before ? ` “${before.title}” is a candidate again.` : ''}`, {
        undo: () => (before ? film.api.post(`/tracks/${before.id}/lock`, { instead: track.id }) : film.api.del(`/tracks/${track.id}/lock`)),
      }),
  );
}

/** Opens the choice again. */
export async function unlockTrack(film: FilmState, track: Track): Promise<void> {
  await tried(
    () => toldWhoWasFirst(film, track, () => film.api.del(`/tracks/${track.id}/lock`)),
    () => say('The choice of music is open again.', { undo: () => film.api.post(`/tracks/${track.id}/lock`, { instead: null }) }),
  );
}

/** When somebody was first, what is locked now is shown, unless the page knows newer. */
async function toldWhoWasFirst(film: FilmState, track: Track, change: () => Promise<unknown>): Promise<void> {
  try {
    await shown(film, showsTrack(track), change);
  } catch (error) {
    if (error instanceof ApiProblem && error.code === 'locked-meanwhile' && film.connection !== 'open') film.upsert({ tracks: (error.more['tracks'] ?? []) as Track[] });
    throw error;
  }
}

/** Ties the start of a line to a mark, or unties it for null, with undo. */
export async function tieLine(film: FilmState, item: { id: string; name: string }, markId: string | null): Promise<void> {
  const before = film.tieOf(item.id);
  const set = async (id: string | null) => {
    const now = film.tieOf(item.id);
    if (id !== null) await film.api.put(`/items/${item.id}/tie`, { markId: id, instead: now?.id ?? null });
    else if (now) await film.api.del(`/ties/${now.id}`);
  };
  if (before?.markId === markId || (before === null && markId === null)) return;
  const line = item.name || 'The line';
  await tried(
    () => shown(film, (rows) => rows.ties?.some(({ itemId }) => itemId === item.id) ?? false, () => set(markId)),
    () => say(markId === null ? `${line} is untied.` : `${line} begins on the mark.`, { undo: () => set(before?.markId ?? null) }),
  );
}
