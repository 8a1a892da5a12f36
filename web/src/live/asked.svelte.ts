import type { FilmEvent } from '#contract/live';
import { wordsOf } from '../api/problem.ts';
import type { FilmState } from './film-state.svelte.ts';

interface Question<T> {
  ask: () => Promise<T>;
  /** Whether an event may have changed the answer. */
  concerns: (event: FilmEvent) => boolean;
  /** Whether what somebody watches changes it too. */
  bySeen?: boolean;
  /** Changes come many at a time; it is asked again this long after the first of them. */
  againMs?: number;
}

/*
 * Something that a page asks the server for, and asks again when an event concerns it. States: asking (`answer` is null)
 * -> shown | failed; shown -> asking again, while what was shown stays. An answer that was overtaken is dropped.
 */
export class Asked<T> {
  answer: T | null = $state.raw(null);
  /** Why there is no newer answer, in words; null when there is. */
  failure: string | null = $state(null);
  readonly #question: Question<T>;
  readonly #stops: (() => void)[];
  #timer: number | null = null;
  #latest = 0;
  #closed = false;

  constructor(film: FilmState, question: Question<T>) {
    this.#question = question;
    this.#stops = [film.listen((event) => question.concerns(event) && this.#soon()), ...(question.bySeen ? [film.listenSeen(() => this.#soon())] : [])];
    void this.load();
  }

  /** Asks now. Resolves when the answer is here or it is known that there is none. */
  async load(): Promise<void> {
    const turn = ++this.#latest;
    try {
      const answer = await this.#question.ask();
      if (this.#closed || turn !== this.#latest) return;
      this.answer = answer;
      this.failure = null;
    } catch (error) {
      if (!this.#closed && turn === this.#latest) this.failure = wordsOf(error);
    }
  }

  close(): void {
    this.#closed = true;
    for (const stop of this.#stops) stop();
    if (this.#timer !== null) window.clearTimeout(this.#timer);
  }

  #soon(): void {
    this.#timer ??= window.setTimeout(() => {
      this.#timer = null;
      void this.load();
    }, this.#question.againMs ?? 700);
  }
}
