import type { Item } from '#contract/outline';
import { bindings } from '../actions/hands.svelte.ts';
import { registerActions } from '../actions/registry.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { shown } from '../music/changes.ts';
import { say, tried } from '../ui/say.svelte.ts';
import type { Fitted } from './fitting.svelte.ts';

type Lengths = readonly { readonly id: string; readonly frames: number }[];

/** Makes the fit available in a room; the function answered takes it and its first control back. */
export function registerFit({ when, open }: { when: () => boolean; open: () => void }): () => void {
  const release = registerActions([{ id: 'fit.open', label: 'Fit lengths to the music', when, run: open }]);
  const forget = bindings.suggest({ 'fit.open': ['key:F'] });
  return () => {
    release();
    forget();
  };
}

/** Why there is nothing to fit; null where there is. */
export function whyNoFit(film: FilmState): string | null {
  const track = film.lockedTrack;
  if (!track) return 'No music is locked, so there is nothing to fit to: lengths are what the budget gives them. Lock a track in the Music room.';
  if (track.state !== 'ready') return `“${track.title}” has not been listened to yet, so it has no marks to fit to.`;
  if (film.lines.length === 0) return 'The outline is empty, so there are no lengths to fit.';
  return null;
}

const put = (film: FilmState, lengths: Lengths) => film.api.put('/outline/fitted', { seen: film.seq, lengths });
const drop = (film: FilmState) => film.api.del('/outline/fitted');

/** The lengths of the fit that holds just now; null for none. */
function fittedNow(film: FilmState): Lengths | null {
  if (film.budget.fit !== 'holds') return null;
  return film.lines.filter(({ children }) => children.length === 0).map(({ row }) => ({ id: row.id, frames: row.fitted! }));
}

/** Runs one change of fitted lengths and waits until the page has it. @returns whether it was done. */
const changed = (film: FilmState, change: () => Promise<unknown>, done: () => void) =>
  tried(() => shown(film, ({ items }) => items?.some(({ id }: Item) => film.items.has(id)) ?? false, change), done);

/** Adopts lengths, all in one change that is undone in one. @returns whether they were adopted. */
export async function adoptFit(film: FilmState, fitted: readonly Fitted[], title: string): Promise<boolean> {
  const before = fittedNow(film);
  const after = fitted.map(({ line, after: { frames } }) => ({ id: line.row.id, frames }));
  return changed(film, () => put(film, after), () =>
    say(`The lengths are fitted to “${title}”.`, { undo: () => (before ? put(film, before) : drop(film)), again: () => put(film, after) }),
  );
}

/** Puts the fitted lengths away; what lines ask for was never touched. */
export async function dropFit(film: FilmState): Promise<void> {
  const before = fittedNow(film);
  await changed(film, () => drop(film), () =>
    say('The fit is put away: lengths are what the budget gives them.', before ? { undo: () => put(film, before), again: () => drop(film) } : {}),
  );
}
