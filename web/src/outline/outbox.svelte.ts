import type { Item } from '#contract/outline';
import { CLIENT } from '../api/client.ts';
import { ApiProblem } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { KeptList } from './kept-list.ts';
import { newId } from './new-id.ts';
import type { Aside, Change, Pending } from './pending.ts';

/** Until it is tried again: after the link was away, and after the server failed. */
const [AWAY_MS, FAILED_MS] = [2000, 1000];
/** So often a change may make the server fail before it is set aside; or, where a gateway or a busy server says so, which may pass: our own choice. */
const TRIES = { server: 5, gateway: 20 } as const;
/** Nobody there, signed out, too many at once: nothing is said of the change. */
const NOT_YET: ReadonlySet<number> = new Set([0, 401, 429]);
const GATEWAY: ReadonlySet<number> = new Set([502, 503, 504]);

export interface OutboxHears {
  /** What came of a change that was made. */
  arrived(change: Pending, items: readonly Item[]): void;
  /** What the server said no to, and why. */
  refused(change: Pending, problem: ApiProblem): void;
  /** What is set aside. */
  setAside(change: Aside): void;
}

/*
 * Changes of the outline on their way to the server, one after the other in the order they were made. States of each:
 * waiting (also kept in this browser, so that it survives a reload) -> sent -> answered (shown as waiting until the
 * page has the event it became, so that no answer puts an older line over a newer one) -> arrived; or refused; a lost
 * connection puts it back to waiting. One that makes the server fail so often as TRIES says, while the page follows the
 * film, is set aside, so that it does not hold up the others, and stays there, kept as well. Each has a name by
 * which the server does it once however often it is sent.
 */
export class Outbox {
  waiting: readonly Pending[] = $state.raw([]);
  aside: readonly Aside[] = $state.raw([]);
  #answered: readonly { readonly change: Pending; readonly seq: number }[] = $state.raw([]);
  readonly #film: FilmState;
  /** What does not show in the film's own lines yet, oldest first. */
  readonly unseen: readonly Pending[] = $derived.by(() => [...this.#answered.filter(({ seq }) => seq > this.#film.seq).map(({ change }) => change), ...this.waiting]);
  /** The same as `waiting`, apart from the page: a field that is taken off the page still saves, and reads what was before that. */
  #queue: readonly Pending[] = [];
  readonly #hears: OutboxHears;
  readonly #kept: KeptList<Pending>;
  readonly #keptAside: KeptList<Aside>;
  /** What this page's removals took away, by their ids. */
  readonly removals = new Map<string, readonly Item[]>();
  #sending = false;
  #timer: number | null = null;
  #failures = 0;

  constructor(film: FilmState, hears: OutboxHears) {
    this.#film = film;
    this.#hears = hears;
    const own = `${film.id}.${film.mine.userId}`;
    this.#kept = new KeptList(`rushlight.outline.${own}`, CLIENT);
    this.#keptAside = new KeptList(`rushlight.outline-aside.${own}`, CLIENT);
    this.aside = this.#keptAside.found;
    this.#become(this.#kept.found);
    void this.send();
  }

  /** Takes changes on, and sends them as soon as that is possible. */
  add(...changes: readonly Change[]): void {
    this.#become([...this.#queue, ...changes.map(named)]);
    void this.send();
  }

  /** Takes some on before everything that waits: what comes after may speak of their lines. */
  addFirst(...changes: readonly Change[]): void {
    this.#become([...changes.map(named), ...this.#queue]);
    void this.send();
  }

  /** Sets a change aside: it stays in this browser until the person tries it again or puts it away. */
  setAside(change: Pending, why: string): void {
    const aside = { ...change, why };
    this.#become(this.#queue.filter(({ key }) => key !== change.key));
    this.#keepAside([...this.aside, aside]);
    this.#hears.setAside(aside);
  }

  /** Puts what was set aside back among what waits. */
  tryAgain({ why: _, ...change }: Aside): void {
    this.putAway(change);
    this.#become([...this.#queue, change]);
    void this.send();
  }

  /** Forgets what was set aside. */
  putAway({ key }: Pending): void {
    this.#keepAside(this.aside.filter((other) => other.key !== key));
  }

  /** Sends what waits, unless that is going on already. Never rejects. */
  async send(): Promise<void> {
    if (this.#sending) return;
    this.#sending = true;
    try {
      for (let next = this.#queue[0]; next; next = this.#queue[0]) {
        const outcome = await this.#ask(next);
        if (outcome === 'later') return this.#later(AWAY_MS);
        if (typeof outcome === 'string' && ++this.#failures < TRIES[outcome]) return this.#later(outcome === 'server' ? FAILED_MS : AWAY_MS);
        this.#failures = 0;
        this.#settle(next, outcome);
      }
    } finally {
      this.#sending = false;
    }
  }

  /** Stops trying; what waits stays kept. */
  close(): void {
    if (this.#timer !== null) window.clearTimeout(this.#timer);
  }

  #settle(change: Pending, outcome: Done | ApiProblem | keyof typeof TRIES): void {
    const rest = this.#queue.slice(1);
    if (typeof outcome === 'string') this.setAside(change, `The server failed on it ${TRIES[outcome]} times.`);
    else if (outcome instanceof ApiProblem) {
      this.#become(rest);
      this.#hears.refused(change, outcome);
    } else {
      this.#answered = [...this.#answered.filter(({ seq }) => seq > this.#film.seq), { change, seq: outcome.seq }];
      if (change.what === 'remove') this.removals.set(change.removalId, outcome.items.map((row) => ({ ...row, removedAt: null, removalId: null })));
      this.#become(rest);
      this.#hears.arrived(change, outcome.items);
    }
  }

  #later(ms: number): void {
    this.close();
    this.#timer = window.setTimeout(() => void this.send(), ms);
  }

  async #ask(change: Pending): Promise<Done | ApiProblem | 'later' | keyof typeof TRIES> {
    let seq = 0;
    const options = { change: change.key, wrote: (event: number) => void (seq = event) };
    const { api } = this.#film;
    const ask = async (): Promise<readonly Item[]> => {
      if (change.what === 'make') {
        const { what: _, key: __, rescued: ___, ...line } = change;
        return [await api.post<Item>('/items', line, options)];
      }
      if (change.what === 'change') return [await api.patch<Item>(`/items/${change.id}`, change.change, options)];
      if (change.what === 'move') return [await api.post<Item>(`/items/${change.id}/move`, change.place, options)];
      if (change.what === 'remove') return (await api.post<{ items: Item[] }>('/removals', { items: [change.id], removal: change.removalId, saw: change.saw }, options)).items;
      return (await api.post<{ items: Item[] }>(`/removals/${change.removalId}/undo`, undefined, options)).items;
    };
    try {
      return { items: await ask(), seq };
    } catch (error) {
      if (!(error instanceof ApiProblem)) throw error;
      if (error.status > 0 && error.status < 500 && !NOT_YET.has(error.status)) return error;
      // While the film cannot be followed either it is the link or the server, whatever the change is.
      if (NOT_YET.has(error.status) || this.#film.connection !== 'open') return 'later';
      return GATEWAY.has(error.status) ? 'gateway' : 'server';
    }
  }

  #become(queue: readonly Pending[]): void {
    this.#queue = queue;
    this.waiting = queue;
    this.#kept.keep(queue);
  }

  #keepAside(aside: readonly Aside[]): void {
    this.aside = aside;
    this.#keptAside.keep(aside);
  }
}

/** A change that was made, its lines as the server has them, and the number of its event. */
interface Done {
  readonly items: readonly Item[];
  readonly seq: number;
}

const named = (change: Change): Pending => ({ ...change, key: newId() });
