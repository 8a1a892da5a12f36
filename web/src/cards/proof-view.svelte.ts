import type { Proof } from '#contract/cards';
import type { FilmEvent } from '#contract/live';
import { wordsOf } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';

/** A card that is arriving changes many times a second; it is looked at anew this long after the first of them. */
const AGAIN_MS = 700;

/*
 * The proof of one card as this page has it. States: loading -> shown | failed; shown -> loading again whenever something
 * of the card changes, while what was shown stays.
 */
export class ProofView {
  readonly cardId: string;
  proof: Proof | null = $state.raw(null);
  failure: string | null = $state(null);
  readonly #film: FilmState;
  readonly #stop: () => void;
  #timer: number | null = null;
  #closed = false;

  constructor(film: FilmState, cardId: string) {
    this.#film = film;
    this.cardId = cardId;
    this.#stop = film.listen((event) => this.#concerns(event) && this.#soon());
    void this.load();
  }

  async load(): Promise<void> {
    try {
      const proof = await this.#film.api.get<Proof>(`/cards/${this.cardId}/proof`);
      if (this.#closed) return;
      this.proof = proof;
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

  #concerns({ rows }: FilmEvent): boolean {
    return [...(rows.uploads ?? []).map(({ cardId }) => cardId), ...(rows.cards ?? []).map(({ id }) => id)].includes(this.cardId);
  }

  #soon(): void {
    this.#timer ??= window.setTimeout(() => {
      this.#timer = null;
      void this.load();
    }, AGAIN_MS);
  }
}
