import { CLIENT, type AskOptions } from '../api/client.ts';
import { ApiProblem } from '../api/problem.ts';
import type { FilmState } from './film-state.svelte.ts';
import { KeptList } from './kept-list.ts';
import { newId } from './new-id.ts';

/** Until it is tried again: after the link was away, and after the server failed. */
const [AWAY_MS, FAILED_MS] = [2000, 1000];
/** So often a change may make the server fail before it is set aside; or, where a gateway or a busy server says so, which may pass: our own choice. */
const TRIES = { server: 5, gateway: 20 } as const;
/** Nobody there, signed out, too many at once: nothing is said of the change. */
const NOT_YET: ReadonlySet<number> = new Set([0, 401, 429]);
const GATEWAY: ReadonlySet<number> = new Set([502, 503, 504]);

/** A change with the name by which the server does it once, however often it is sent. */
export type Named<Change> = Change & { readonly key: string };
/** One that does not go out any more, and why. */
export type Aside<Change> = Named<Change> & { readonly why: string };

export interface Post<Change, Answer> {
  /** What the changes are kept under in this browser. */
  own: string;
  send(change: Named<Change>, options: AskOptions): Promise<Answer>;
  /** What came of a change that was made. */
  arrived(change: Named<Change>, answer: Answer): void;
  /** What the server said no to, and why. */
  refused(change: Named<Change>, problem: ApiProblem): void;
  setAside(change: Aside<Change>): void;
}

/*
 * Changes on their way to the server, one after the other in the order they were made. States of each: waiting (also kept
 * in this browser, so that it survives a reload) -> sent -> answered (shown as waiting until the page has the event it
 * became, so that no answer puts an older row over a newer one) -> arrived; or refused; a lost connection puts it back to
 * waiting. One that makes the server fail so often as TRIES says, while the page follows the film, is set aside, so that
 * it does not hold up the others, and stays there, kept as well.
 */
export class Outbox<Change extends object, Answer> {
  waiting: readonly Named<Change>[] = $state.raw([]);
  aside: readonly Aside<Change>[] = $state.raw([]);
  #answered: readonly { readonly change: Named<Change>; readonly seq: number }[] = $state.raw([]);
  readonly #film: FilmState;
  /** What does not show in the film's own rows yet, oldest first. */
  readonly unseen: readonly Named<Change>[] = $derived.by(() => [...this.#answered.filter(({ seq }) => seq > this.#film.seq).map(({ change }) => change), ...this.waiting]);
  /** The same as `waiting`, apart from the page: a field that is taken off the page still saves, and reads what was before that. */
  #queue: readonly Named<Change>[] = [];
  readonly #post: Post<Change, Answer>;
  readonly #kept: KeptList<Named<Change>>;
  readonly #keptAside: KeptList<Aside<Change>>;
  /** What was sent, and may have been done though no answer came: its content stays as it is. */
  #tried = '';
  #sending: Promise<void> | null = null;
  #timer: number | null = null;
  #failures = 0;

  constructor(film: FilmState, post: Post<Change, Answer>) {
    this.#film = film;
    this.#post = post;
    const who = `${film.id}.${film.mine.userId}`;
    this.#kept = new KeptList(`rushlight.${post.own}.${who}`, CLIENT);
    this.#keptAside = new KeptList(`rushlight.${post.own}-aside.${who}`, CLIENT);
    this.aside = this.#keptAside.found;
    this.#become(this.#kept.found);
  }

  /** Takes changes on, and sends them as soon as that is possible. */
  add(...changes: readonly Change[]): void {
    this.#become([...this.#queue, ...changes.map(named)]);
    void this.send();
  }

  /**
   * Takes a change on that may be one with the last that waits.
   * @param together both as one, or null when they are two
   */
  addOrJoin(change: Change, together: (last: Change) => Change | null): void {
    const last = this.#queue.at(-1);
    const both = last && last.key !== this.#tried ? together(last) : null;
    if (!last || !both) return this.add(change);
    this.#become([...this.#queue.slice(0, -1), { ...both, key: last.key }]);
    void this.send();
  }

  /** Takes some on before everything that waits: what comes after may speak of their rows. */
  addFirst(...changes: readonly Change[]): void {
    this.#become([...changes.map(named), ...this.#queue]);
    void this.send();
  }

  /** Sets a change aside: it stays in this browser until the person tries it again or puts it away. */
  setAside(change: Named<Change>, why: string): void {
    const aside = { ...change, why };
    this.#become(this.#queue.filter(({ key }) => key !== change.key));
    this.#keepAside([...this.aside, aside]);
    this.#post.setAside(aside);
  }

  /** Puts what was set aside back among what waits. */
  tryAgain({ why: _, ...rest }: Aside<Change>): void {
    const change = rest as unknown as Named<Change>;
    this.putAway(change);
    this.#become([...this.#queue, change]);
    void this.send();
  }

  /** Forgets what was set aside. */
  putAway({ key }: { readonly key: string }): void {
    this.#keepAside(this.aside.filter((other) => other.key !== key));
  }

  /** Sends what waits. Resolves when all of it was answered, or has to wait for the link or the server. Never rejects. */
  send(): Promise<void> {
    if (this.#queue.length === 0) return Promise.resolve();
    this.#sending ??= this.#sendAll();
    return this.#sending;
  }

  async #sendAll(): Promise<void> {
    try {
      for (let next = this.#queue[0]; next; next = this.#queue[0]) {
        this.#tried = next.key;
        const outcome = await this.#ask(next);
        if (outcome === 'later') return this.#later(AWAY_MS);
        if (typeof outcome === 'string' && ++this.#failures < TRIES[outcome]) return this.#later(outcome === 'server' ? FAILED_MS : AWAY_MS);
        this.#failures = 0;
        this.#settle(next, outcome);
      }
    } finally {
      // Together with the last look at the queue, so that what is added next is sent.
      this.#sending = null;
    }
  }

  /** Stops trying; what waits stays kept. */
  close(): void {
    if (this.#timer !== null) window.clearTimeout(this.#timer);
  }

  #settle(change: Named<Change>, outcome: Done<Answer> | ApiProblem | keyof typeof TRIES): void {
    const rest = this.#queue.slice(1);
    if (typeof outcome === 'string') this.setAside(change, `The server failed on it ${TRIES[outcome]} times.`);
    else if (outcome instanceof ApiProblem) {
      this.#become(rest);
      this.#post.refused(change, outcome);
    } else {
      this.#answered = [...this.#answered.filter(({ seq }) => seq > this.#film.seq), { change, seq: outcome.seq }];
      this.#become(rest);
      this.#post.arrived(change, outcome.answer);
    }
  }

  #later(ms: number): void {
    this.close();
    this.#timer = window.setTimeout(() => void this.send(), ms);
  }

  async #ask(change: Named<Change>): Promise<Done<Answer> | ApiProblem | 'later' | keyof typeof TRIES> {
    let seq = 0;
    try {
      const answer = await this.#post.send(change, { change: change.key, wrote: (event) => void (seq = event) });
      return { answer, seq };
    } catch (error) {
      if (!(error instanceof ApiProblem)) throw error;
      if (error.status > 0 && error.status < 500 && !NOT_YET.has(error.status)) return error;
      // While the film cannot be followed either it is the link or the server, whatever the change is.
      if (NOT_YET.has(error.status) || this.#film.connection !== 'open') return 'later';
      return GATEWAY.has(error.status) ? 'gateway' : 'server';
    }
  }

  #become(queue: readonly Named<Change>[]): void {
    this.#queue = queue;
    this.waiting = queue;
    this.#kept.keep(queue);
  }

  #keepAside(aside: readonly Aside<Change>[]): void {
    this.aside = aside;
    this.#keptAside.keep(aside);
  }
}

/** What the server answered, and the number of the event the change became; 0 for what is no event. */
interface Done<Answer> {
  readonly answer: Answer;
  readonly seq: number;
}

const named = <Change extends object>(change: Change): Named<Change> => ({ ...change, key: newId() });
