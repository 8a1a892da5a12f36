import type { Clip, ClipChange, ClipsChange, ClipsChanged, ClockChange, FootageRow, Proposal } from '#contract/footage';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, sayFault, tried } from '../ui/say.svelte.ts';

const named = (ids: readonly string[], name: string | undefined): string => (ids.length === 1 ? (name ?? 'the clip') : `${ids.length} clips`);

/** Runs one change a clip, in turn; after a refusal the rest stays as it is. @returns the clips that were changed. */
async function each(ids: readonly string[], change: (id: string) => Promise<unknown>): Promise<string[]> {
  const done: string[] = [];
  try {
    for (const id of ids) {
      await change(id);
      done.push(id);
    }
  } catch (error) {
    sayFault(error);
  }
  return done;
}

/** A change of many clips; what takes it back is the answer: facts, and whether a person had set them. */
function setMany(film: FilmState, changes: ClipsChange['changes'], words: string): Promise<boolean> {
  const send = (many: ClipsChange['changes']) => film.api.patch<ClipsChanged>('/clips', { changes: many });
  return tried(
    () => send(changes),
    ({ previous }) => say(words, { undo: () => send(previous).then(() => {}), again: () => send(changes).then(() => {}) }),
  );
}

/** Sets facts of one or many clips, as a person does; one undo gives each its own back. */
export async function setFacts(film: FilmState, ids: readonly string[], change: ClipChange, name: string): Promise<void> {
  await setMany(film, ids.map((id) => ({ id, ...change })), `Set for ${named(ids, name)}.`);
}

/** Sorts clips by what they say themselves; nothing of it counts as set by a person. @returns whether it was done. */
export async function sortClips(film: FilmState, proposals: readonly Proposal[]): Promise<boolean> {
  const changes = new Map<string, ClipsChange['changes'][number]>();
  for (const { clipId, byHand, fact, to } of proposals) changes.set(clipId, { id: clipId, byHand, ...changes.get(clipId), [fact]: to });
  return setMany(film, [...changes.values()], `${changes.size} ${changes.size === 1 ? 'clip' : 'clips'} sorted.`);
}

/** Sets the clock of a camera, or with no moment and zone takes it back; one undo puts it as it was. @returns whether it was done. */
export async function setClock(film: FilmState, change: ClockChange): Promise<boolean> {
  return tried(
    () => film.api.put<{ previous: ClockChange; clips: number }>('/clocks', change),
    ({ previous, clips }) =>
      say(`Clock of camera ${change.camera} set for ${clips} ${clips === 1 ? 'clip' : 'clips'}.`, { undo: () => film.api.put('/clocks', previous), again: () => film.api.put('/clocks', change) }),
  );
}

/** Takes clips out of the film; one undo brings all back. */
export async function removeClips(film: FilmState, ids: readonly string[], nameOf: (id: string) => string | undefined): Promise<void> {
  const name = nameOf(ids[0] ?? '');
  await tried(
    () => each(ids, (id) => film.api.del(`/clips/${id}`)),
    (done) => {
      if (done.length === 0) return;
      say(`${named(done, name)} taken out of the film.`, {
        undo: async () => {
          for (const id of done) await film.api.post(`/clips/${id}/restore`);
        },
      });
    },
  );
}

/** Puts a clip whose proxy failed back into the queue. */
export async function retryProxy(film: FilmState, clip: Clip): Promise<void> {
  await tried(
    () => film.api.post(`/clips/${clip.id}/retry`),
    () => say(`Trying the proxy of ${clip.name} again.`),
  );
}

/** Puts every clip whose proxy failed, and may be tried again, back into the queue. */
export async function retryFailed(film: FilmState): Promise<void> {
  const failed = async () => (await film.api.get<FootageRow[]>('/footage/clips?state=failed&limit=200')).map(({ clip }) => clip).filter(({ failure }) => failure?.mayRetry);
  await tried(
    async () => each((await failed()).map(({ id }) => id), (id) => film.api.post(`/clips/${id}/retry`)),
    (done) => say(done.length ? `Trying ${done.length === 1 ? 'one proxy' : `${done.length} proxies`} again.` : 'None of them can be made by trying again; each says why.'),
  );
}
