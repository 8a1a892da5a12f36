import type { Clip } from '#contract/footage';
import type { FilmEvent } from '#contract/live';
import type { FilmState } from '../live/film-state.svelte.ts';

/** The clips around one, in the order of the footage table; null where there is none. */
export interface Neighbours {
  previous: string | null;
  next: string | null;
  /** The next one of which somebody has still to see something; after the last, from the first on. Never the clip itself. */
  unseen: string | null;
}

async function idsBeside(film: FilmState, query: Record<string, string>): Promise<string[]> {
  return (await film.api.get<Clip[]>(`/footage/beside?${new URLSearchParams(query).toString()}`)).map(({ id }) => id);
}

/** Throws ApiProblem; `not-found` for a clip the film never had. */
export async function neighboursOf(film: FilmState, clipId: string): Promise<Neighbours> {
  const [previous, next, unseenAfter, unseenFirst] = await Promise.all([
    idsBeside(film, { from: clipId, way: 'before' }),
    idsBeside(film, { from: clipId }),
    idsBeside(film, { from: clipId, unseen: 'true' }),
    idsBeside(film, { unseen: 'true', limit: '2' }),
  ]);
  return { previous: previous[0] ?? null, next: next[0] ?? null, unseen: unseenAfter[0] ?? unseenFirst.find((id) => id !== clipId) ?? null };
}

/** Where watching begins: the first clip with anything unseen, else the first of all; null for a film without clips. */
export async function firstToSweep(film: FilmState): Promise<string | null> {
  const [unseen] = await idsBeside(film, { unseen: 'true' });
  return unseen ?? (await idsBeside(film, {}))[0] ?? null;
}

/** Whether an event may change the order of the clips, or what is left to see. */
export const concernsOrder = ({ rows }: FilmEvent): boolean => rows.clips !== undefined;
