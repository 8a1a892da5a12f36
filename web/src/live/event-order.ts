import type { FilmEvent } from '#contract/live';

/*
 * Puts the events of a film in order. States: in step (`seq` is the newest applied) and filling (a hole was seen, the
 * missing ones are being fetched; what arrives meanwhile waits). An event that is not newer than `seq` is dropped, the
 * next one is applied, a later one starts the filling. `reset` ends everything that is under way.
 */
export class EventOrder {
  readonly #apply: (event: FilmEvent) => void;
  readonly #fetchAfter: (seq: number) => Promise<FilmEvent[]>;
  readonly #waiting = new Map<number, FilmEvent>();
  #seq: number;
  #era = 0;
  #filling: Promise<void> | null = null;

  /** @param fetchAfter the events after a number, oldest first; an empty list when there are none */
  constructor(seq: number, apply: (event: FilmEvent) => void, fetchAfter: (seq: number) => Promise<FilmEvent[]>) {
    this.#seq = seq;
    this.#apply = apply;
    this.#fetchAfter = fetchAfter;
  }

  /** Number of the newest event applied. */
  get seq(): number {
    return this.#seq;
  }

  /** Begins again from a snapshot taken at `seq`. */
  reset(seq: number): void {
    this.#era++;
    this.#seq = seq;
    this.#filling = null;
    this.#waiting.clear();
  }

  /** Takes an event as it arrives, in whatever order. */
  take(event: FilmEvent): void {
    if (event.seq <= this.#seq) return;
    this.#waiting.set(event.seq, event);
    this.#applyWaiting();
    // What cannot be fetched now comes again: with the next event, or when the connection is back.
    if (this.#waiting.size) this.fill().catch(() => this.#waiting.clear());
  }

  /** Fetches and applies everything newer than `seq`. Rejects when the fetching does; nothing is lost by that. */
  fill(): Promise<void> {
    this.#filling ??= this.#fill(this.#era);
    return this.#filling;
  }

  async #fill(era: number): Promise<void> {
    try {
      let [before, asked] = [-1, -1];
      // Once more for what arrived while the last answer was on its way: it may show a hole that the answer was too early for.
      while (this.#seq > before || this.#newest() > asked) {
        [before, asked] = [this.#seq, this.#newest()];
        const events = await this.#fetchAfter(this.#seq);
        if (era !== this.#era) return;
        for (const event of events) this.#waiting.set(event.seq, event);
        this.#applyWaiting();
      }
      this.#waiting.clear();
    } finally {
      if (era === this.#era) this.#filling = null;
    }
  }

  /** The newest event that waits for those before it. */
  #newest(): number {
    return Math.max(-1, ...this.#waiting.keys());
  }

  #applyWaiting(): void {
    for (let next = this.#waiting.get(this.#seq + 1); next; next = this.#waiting.get(this.#seq + 1)) {
      this.#waiting.delete(next.seq);
      this.#seq = next.seq;
      this.#apply(next);
    }
    for (const seq of this.#waiting.keys()) if (seq <= this.#seq) this.#waiting.delete(seq);
  }
}
