import { tick, untrack } from 'svelte';

const PAUSE_MS = 700;

type Field = HTMLInputElement | HTMLTextAreaElement;

const drafts = new WeakMap<Element, Draft>();

/** Whether a field holds something that is typed and not saved. */
export const isTyping = (field: Element): boolean => drafts.get(field)?.typing ?? false;

/*
 * What a person types into a field, apart from what is saved.
 * States: clean (shows what is saved, also when somebody else changes it) and typing (keeps what is typed, whatever
 * others save); typing ends when what is typed has been saved, or is taken back.
 */
export class Draft {
  text = $state('');
  /** The element, so that the caret stays where it is when the text changes under it. */
  field: Field | undefined = $state.raw();
  readonly #save: (text: string, seen: string) => void;
  readonly #whilePausing: boolean;
  readonly #onLeave = () => this.commit();
  #saved: string;
  /** What was saved when the typing began, or handed over since. */
  #seen: string;
  #timer: number | null = null;

  /**
   * Made in a component's set-up.
   * @param saved the text as it is saved now
   * @param save asked with every text to save, and with the saved one that the person began from; what comes of it arrives through `saved`
   * @param whilePausing whether a pause in the typing saves, or only leaving the field
   */
  constructor(saved: () => string, save: (text: string, seen: string) => void, { whilePausing = true }: { whilePausing?: boolean } = {}) {
    this.#save = save;
    this.#whilePausing = whilePausing;
    this.#saved = untrack(saved);
    this.#seen = this.#saved;
    this.text = this.#saved;
    $effect.pre(() => {
      const now = saved();
      untrack(() => this.#follow(now));
    });
    $effect(() => {
      if (this.field) drafts.set(this.field, this);
    });
    $effect(() => () => this.commit());
  }

  /** To be called after every change of `text` by hand. */
  typed(): void {
    if (!this.#whilePausing) return;
    if (this.#timer === null) window.addEventListener('pagehide', this.#onLeave);
    else window.clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => this.commit(), PAUSE_MS);
  }

  /** Whether something is typed that is not saved. */
  get typing(): boolean {
    return this.text !== this.#saved;
  }

  /** Saves what was typed, if anything. */
  commit(): void {
    if (this.#timer !== null) {
      window.clearTimeout(this.#timer);
      window.removeEventListener('pagehide', this.#onLeave);
    }
    this.#timer = null;
    // What was handed over already need not have come back yet.
    if (this.text === this.#saved || this.text === this.#seen) return;
    const seen = this.#seen;
    this.#seen = this.text;
    this.#save(this.text, seen);
  }

  /** Shows what is saved again. */
  takeBack(): void {
    this.text = this.#saved;
    this.#seen = this.#saved;
  }

  #follow(now: string): void {
    const clean = this.text === this.#saved;
    this.#saved = now;
    if (clean || this.text === now) this.#seen = now;
    if (!clean || this.text === now) return;
    const { field } = this;
    const caret = field === document.activeElement ? ([field?.selectionStart ?? null, field?.selectionEnd ?? null] as const) : null;
    this.text = now;
    if (caret) void tick().then(() => field?.setSelectionRange(...caret));
  }
}
