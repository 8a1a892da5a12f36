import type { Choice, Originals } from '#contract/originals';
import type { FilmEvent } from '#contract/live';
import { wordsOf } from '../api/problem.ts';
import { textOf } from '../cards/changes.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Clips arrive many at a time; what belongs together is asked for this long after the first of them. */
const AGAIN_MS = 700;
const NOTHING: Choice = { joined: null, own: false, apart: [] };

/*
 * The camera originals of a film as this page has them. States: loading -> shown | failed; shown -> loading again when
 * clips or originals change, while what was shown stays.
 */
export class OriginalsView {
  all: Originals | null = $state.raw(null);
  failure: string | null = $state(null);
  readonly #film: FilmState;
  readonly #stop: () => void;
  #timer: number | null = null;
  #closed = false;

  constructor(film: FilmState) {
    this.#film = film;
    this.#stop = film.listen((event) => this.#concerns(event) && this.#soon());
    void this.load();
  }

  async load(): Promise<void> {
    try {
      const all = await this.#film.api.get<Originals>('/originals');
      if (this.#closed) return;
      this.all = all;
      this.failure = null;
    } catch (error) {
      if (!this.#closed) this.failure = wordsOf(error);
    }
  }

  close(): void {
    this.#closed = true;
    this.#stop();
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  choiceOf(clipId: string): Choice {
    const { joined, own, apart } = this.all?.choices.find((one) => one.clipId === clipId) ?? NOTHING;
    return { joined, own, apart };
  }

  /** Settles what the original of a clip is; one undo brings back what was settled before. */
  async settle(clipId: string, choice: Choice, words: string): Promise<void> {
    const put = (what: Choice) => this.#film.api.put<Choice>(`/originals/choices/${clipId}`, what);
    await tried(
      () => put(choice),
      (before) => say(words, { undo: () => put(before), again: () => put(choice) }),
    );
  }

  async give(card: string, files: readonly File[]): Promise<void> {
    for (const file of files) {
      await tried(
        async () => this.#film.api.post('/originals/lists', { card, name: file.name, text: await textOf(file) }),
        () => say(`${file.name} is compared with the clips of card ${card}.`),
      );
    }
  }

  async putAside(list: Originals['lists'][number]): Promise<void> {
    const path = `/originals/lists/${list.id}`;
    await tried(
      () => this.#film.api.del(path),
      () => say(`${list.name} put aside.`, { undo: () => this.#film.api.post(`${path}/restore`), again: () => this.#film.api.del(path) }),
    );
  }

  #concerns({ kind, rows }: FilmEvent): boolean {
    return kind.startsWith('original') || rows.clips !== undefined;
  }

  #soon(): void {
    this.#timer ??= window.setTimeout(() => {
      this.#timer = null;
      void this.load();
    }, AGAIN_MS);
  }
}
