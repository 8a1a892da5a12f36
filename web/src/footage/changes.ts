import type { Clip, ClipChange, ClockChange, Fact, Proposal } from '#contract/footage';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, sayFault, tried } from '../ui/say.svelte.ts';

const named = (clips: readonly Clip[]): string => (clips.length === 1 ? (clips[0]?.name ?? '') : `${clips.length} clips`);

/** Runs one change a clip, in turn; after a refusal the rest stays as it is. @returns the clips that were changed. */
async function each(clips: readonly Clip[], change: (clip: Clip) => Promise<unknown>): Promise<Clip[]> {
  const done: Clip[] = [];
  try {
    for (const clip of clips) {
      await change(clip);
      done.push(clip);
    }
  } catch (error) {
    sayFault(error);
  }
  return done;
}

/** A change of many clips, and the one that takes it back: facts, and whether a person had set them. */
async function setMany(film: FilmState, changes: readonly ({ id: string; byHand?: Fact[] } & ClipChange)[], words: string): Promise<boolean> {
  const restored = changes.flatMap(({ id, byHand: _, ...change }) => {
    const before = film.clips.get(id);
    const facts = Object.keys(change) as (keyof ClipChange)[];
    return before ? [{ id, ...Object.fromEntries(facts.map((fact) => [fact, before[fact]])), byHand: before.byHand }] : [];
  });
  const send = (many: readonly object[]) => film.api.patch('/clips', { changes: many });
  return tried(
    () => send(changes),
    () => say(words, { undo: () => send(restored), again: () => send(changes) }),
  );
}

/** Sets facts of one or many clips, as a person does; one undo gives each its own back. */
export async function setFacts(film: FilmState, clips: readonly Clip[], change: ClipChange): Promise<void> {
  await setMany(film, clips.map(({ id }) => ({ id, ...change })), `Set for ${named(clips)}.`);
}

/** Sorts clips by what they say themselves; nothing of it counts as set by a person. @returns whether it was done. */
export async function sortClips(film: FilmState, proposals: readonly Proposal[]): Promise<boolean> {
  const changes = new Map<string, { id: string; byHand: Fact[] } & ClipChange>();
  for (const { clipId, fact, to } of proposals) {
    const clip = film.clips.get(clipId);
    if (clip) changes.set(clipId, { id: clipId, byHand: clip.byHand, ...changes.get(clipId), [fact]: to });
  }
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
export async function removeClips(film: FilmState, clips: readonly Clip[]): Promise<void> {
  await tried(
    () => each(clips, (clip) => film.api.del(`/clips/${clip.id}`)),
    (done) => {
      if (done.length === 0) return;
      say(`${named(done)} taken out of the film.`, {
        undo: async () => {
          for (const { id } of done) await film.api.post(`/clips/${id}/restore`);
        },
      });
    },
  );
}

/** Puts the failed ones among clips back into the queue. */
export async function retryProxies(film: FilmState, clips: readonly Clip[]): Promise<void> {
  const done = await each(clips.filter((clip) => clip.state === 'failed' && clip.failure?.mayRetry), (clip) => film.api.post(`/clips/${clip.id}/retry`));
  if (done.length) say(`Trying the proxy of ${named(done)} again.`);
}
