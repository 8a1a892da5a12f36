import type { Clearance, CutInChange, LetGoChange, NewClearance, TurnoverRemark } from '#contract/turnover';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Lets a remark go with a reason, or takes that back. */
export function letGo(film: FilmState, { key }: TurnoverRemark, why: string | null): Promise<boolean> {
  const put = (what: LetGoChange) => film.api.put<LetGoChange>('/turnover/let-go', what);
  const change: LetGoChange = { changes: [{ key, why }] };
  return tried(
    () => put(change),
    (before) => say(why === null ? 'It counts again.' : 'Let go.', { undo: () => put(before), again: () => put(change) }),
  );
}

/** Sets how many frames go along before and after every take. */
export function setHandles(film: FilmState, handleFrames: number): Promise<boolean> {
  const before = film.row.handleFrames;
  const put = (frames: number) => film.api.patch('', { handleFrames: frames });
  return tried(
    () => put(handleFrames),
    () => say('Handles set.', { undo: () => put(before), again: () => put(handleFrames) }),
  );
}

/** Records a location permit or a person's release. */
export function record(film: FilmState, clearance: NewClearance): Promise<boolean> {
  return tried(
    () => film.api.post<Clearance>('/clearances', clearance),
    ({ id, name }) => say(`${name} recorded.`, { undo: () => film.api.del(`/clearances/${id}`), again: () => film.api.post(`/clearances/${id}/restore`) }),
  );
}

/** Says how a permit or a release stands, or where its paper is. */
export function changeClearance(film: FilmState, before: Clearance, change: Partial<Pick<Clearance, 'state' | 'words'>>): Promise<boolean> {
  const put = (what: Partial<Clearance>) => film.api.patch(`/clearances/${before.id}`, what);
  const former = Object.fromEntries(Object.keys(change).map((field) => [field, before[field as keyof Clearance]]));
  return tried(
    () => put(change),
    () => say(`${before.name} changed.`, { undo: () => put(former), again: () => put(change) }),
  );
}

export function takeOff(film: FilmState, { id, name }: Clearance): Promise<boolean> {
  return tried(
    () => film.api.del(`/clearances/${id}`),
    () => say(`${name} taken off the list.`, { undo: () => film.api.post(`/clearances/${id}/restore`), again: () => film.api.del(`/clearances/${id}`) }),
  );
}

/** Marks offers as cut in, and others as no longer. */
export function markCutIn(film: FilmState, change: CutInChange): Promise<boolean> {
  const post = (what: CutInChange) => film.api.post<CutInChange>('/turnover/cut-in', what);
  return tried(
    () => post(change),
    (done) => say(`${done.set.length} marked as cut in${done.clear.length ? `, ${done.clear.length} as no longer` : ''}.`, { undo: () => post({ set: done.clear, clear: done.set }), again: () => post(done) }),
  );
}
