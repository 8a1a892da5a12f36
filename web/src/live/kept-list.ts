/*
 * A list that survives a reload in this browser. Every tab keeps its own; what a tab that is gone left behind goes to
 * the next one that looks. If that tab is still open both have it, which is as good as once where doing it twice is.
 */
export class KeptList<T> {
  readonly #key: string;

  /** @param own what this list is, for this person; @param tab the name of this tab */
  constructor(own: string, tab: string) {
    this.#key = `${own}.${tab}`;
    const left = Object.keys(localStorage).filter((key) => key.startsWith(`${own}.`));
    this.found = left.flatMap((key) => JSON.parse(localStorage.getItem(key) ?? '[]') as T[]);
    this.keep(this.found);
    for (const key of left) if (key !== this.#key) localStorage.removeItem(key);
  }

  /** What was kept when the page was opened. */
  readonly found: readonly T[];

  /** Keeps this list from now on. */
  keep(list: readonly T[]): void {
    try {
      if (list.length > 0) localStorage.setItem(this.#key, JSON.stringify(list));
      else localStorage.removeItem(this.#key);
    } catch {
      // A browser that keeps nothing still has it while the page is open.
    }
  }
}
