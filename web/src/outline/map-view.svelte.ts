/** A stretch of running time in frames, half-open. */
export interface Stretch {
  readonly in: number;
  readonly outExclusive: number;
}

const STEP = 2;
/** The closest one can look, in frames. */
const LEAST = 12;

/**
 * What of the running time the map shows: the whole film, or a stretch of it. When the film gets another length, what is
 * shown stays within it.
 */
export class MapView {
  #total: () => number;
  #in = $state(0);
  #length: number | null = $state(null);

  /** @param total running time in frames. */
  constructor(total: () => number) {
    this.#total = total;
  }

  get whole(): boolean {
    return this.length === this.#total();
  }

  get length(): number {
    return Math.min(this.#length ?? Infinity, this.#total());
  }

  get in(): number {
    return Math.max(0, Math.min(this.#in, this.#total() - this.length));
  }

  get outExclusive(): number {
    return this.in + this.length;
  }

  /** Shows a stretch, with a little of what is around it. */
  show({ in: from, outExclusive }: Stretch): void {
    const margin = (outExclusive - from) / 20;
    this.#set(from - margin, outExclusive - from + 2 * margin);
  }

  showAll(): void {
    this.#in = 0;
    this.#length = null;
  }

  /** Looks closer (or, by less than nothing, from farther away), with `at` staying where it is on the screen. */
  closer(at: number, steps = 1): void {
    const length = this.length / STEP ** steps;
    if (length >= this.#total()) return this.showAll();
    const held = Math.max(length, LEAST);
    this.#set(at - ((at - this.in) * held) / this.length, held);
  }

  /** Moves what is shown along by a part of itself. */
  along(parts: number): void {
    this.#set(this.in + parts * this.length, this.length);
  }

  /** Moves what is shown as little as brings a stretch into it. */
  reveal({ in: from, outExclusive }: Stretch): void {
    if (outExclusive - from > this.length || from < this.in) this.#set(from, this.length);
    else if (outExclusive > this.outExclusive) this.#set(outExclusive - this.length, this.length);
  }

  #set(from: number, length: number): void {
    this.#length = Math.max(LEAST, length);
    this.#in = Math.max(0, Math.min(from, this.#total() - this.length));
  }
}
