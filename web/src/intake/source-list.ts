import type { Card } from '#contract/cards';
import { listLine } from '#core/card-files.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { sayFault } from '../ui/say.svelte.ts';
import type { Sending } from './sending.svelte.ts';

/** The lists this page makes of what was dropped on it: once every file of a card has its checksum, the card gets them all. */
export class SourceLists {
  readonly #film: FilmState;
  readonly #given = new Map<string, string>();

  constructor(film: FilmState) {
    this.#film = film;
  }

  /** @param files of one card. Nothing is given while a checksum is lacking, or twice. */
  async give(files: readonly Sending[]): Promise<void> {
    const card = files[0]?.card;
    if (!card || files.some(({ xxh64 }) => xxh64 === null)) return;
    const text = files.map(({ relativePath, xxh64 }) => listLine(relativePath, xxh64!)).join('');
    if (this.#given.get(card) === text) return;
    this.#given.set(card, text);
    try {
      const { id } = await this.#film.api.post<Card>('/cards', { name: card });
      await this.#film.api.post(`/cards/${id}/manifests`, { name: 'made by this page while it sent', text });
    } catch (error) {
      this.#given.delete(card);
      sayFault(error);
    }
  }
}
