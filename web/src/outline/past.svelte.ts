import type { BroughtBack, Item, NamedState, PastMoment, PastPage, PastState, TakenBack } from '#contract/outline';
import { compareStates } from '#core/outline-history.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say } from '../ui/say.svelte.ts';
import { differenceWords } from './history-words.ts';

/** The state that another is compared with: one by its number, or the outline as it is now. */
export type Against = 'now' | `${number}`;

/*
 * Looking at earlier states of an outline. States: loading the moments; choosing (no state loaded); looking (a state
 * loaded, and the one it is compared with). Moments come a page at a time, newest first; named states are all there from
 * the start. States that were loaded are kept: what is past does not change.
 */
export class Past {
  moments: readonly PastMoment[] = $state.raw([]);
  named: readonly NamedState[] = $state.raw([]);
  /** Where the next page of moments begins; null when all are here. */
  older: number | null = $state(null);
  seq: number | null = $state(null);
  against: Against = $state('now');
  readonly #film: FilmState;
  #states: Readonly<Record<number, readonly Item[]>> = $state.raw({});
  /** Lines of the state that is looked at; null while there is none. */
  readonly items: readonly Item[] | null = $derived.by(() => (this.seq === null ? null : (this.#states[this.seq] ?? null)));
  readonly #other: readonly Item[] | null = $derived.by(() => (this.against === 'now' ? [...this.#film.items.values()] : (this.#states[Number(this.against)] ?? null)));
  /** What is different in the other state, in words; null while one of both is loading. */
  readonly differences: readonly string[] | null = $derived.by(() => {
    const [items, other] = [this.items, this.#other];
    return items && other && differenceWords(compareStates(items, other), items, other, this.#film.row.rate);
  });

  constructor(film: FilmState) {
    this.#film = film;
  }

  /** Loads the newest moments. Throws ApiProblem. */
  async load(): Promise<void> {
    this.#take([], await this.#film.api.get<PastPage>('/outline/history'));
  }

  /** Loads a page of moments before those. Throws ApiProblem. */
  async loadOlder(): Promise<void> {
    this.#take(this.moments, await this.#film.api.get<PastPage>(`/outline/history?before=${this.older}`));
  }

  #take(moments: readonly PastMoment[], page: PastPage): void {
    this.moments = [...moments, ...page.moments];
    this.older = page.older;
    this.named = page.named;
  }

  /** Looks at a state. Throws ApiProblem. */
  async look(seq: number): Promise<void> {
    this.seq = seq;
    await this.#fetch(seq);
  }

  /** Compares with another state. Throws ApiProblem. */
  async compare(against: Against): Promise<void> {
    this.against = against;
    if (against !== 'now') await this.#fetch(Number(against));
  }

  /** Makes the outline what it was. Throws ApiProblem. */
  async bringBack(): Promise<void> {
    const { api } = this.#film;
    let done = 0;
    const wrote = (seq: number) => void (done = seq);
    await api.post<BroughtBack>(`/outline/at/${this.seq}/bring-back`, undefined, { wrote });
    const takeBack = async (): Promise<string | undefined> => {
      const { kept } = await api.post<TakenBack>(`/outline/at/${done}/take-back`, undefined, { wrote });
      if (kept.length > 0) return `Taken back, but for what was changed since: ${namesOf(kept)}.`;
    };
    say('The outline is as it was then.', { undo: takeBack, again: takeBack });
  }

  /** Names the state that is looked at; takes the name away for an empty one. Throws ApiProblem. */
  async name(name: string): Promise<void> {
    const path = `/outline/at/${this.seq}/name`;
    if (name.trim()) await this.#film.api.put(path, { name });
    else await this.#film.api.del(path);
    // A name ends a moment, so those around it are told anew.
    await this.load();
  }

  async #fetch(seq: number): Promise<void> {
    if (this.#states[seq]) return;
    const { items } = await this.#film.api.get<PastState>(`/outline/at/${seq}`);
    this.#states = { ...this.#states, [seq]: items };
  }
}

const NAMES_TOLD = 5;

function namesOf(items: readonly Item[]): string {
  const names = items.slice(0, NAMES_TOLD).map(({ name, kind }) => (name.trim() ? `“${name.trim()}”` : `a ${kind} without a name`));
  return `${names.join(', ')}${items.length > names.length ? ` and ${items.length - names.length} more` : ''}`;
}
