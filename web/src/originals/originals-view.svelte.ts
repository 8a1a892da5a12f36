import type { Choice, Originals } from '#contract/originals';
import { textOf } from '../cards/changes.ts';
import { Asked } from '../live/asked.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

const NOTHING: Choice = { joined: null, own: false, apart: [] };

/** The camera originals of a card as this page has them, and what can be settled of them. */
export class OriginalsView extends Asked<Originals> {
  readonly #film: FilmState;

  constructor(film: FilmState, card: string) {
    super(film, {
      ask: () => film.api.get(`/originals?${new URLSearchParams({ card }).toString()}`),
      concerns: ({ kind, rows }) => kind.startsWith('original') || rows.clips !== undefined,
    });
    this.#film = film;
  }

  choiceOf(clipId: string): Choice {
    const { joined, own, apart } = this.answer?.choices.find((one) => one.clipId === clipId) ?? NOTHING;
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
}
