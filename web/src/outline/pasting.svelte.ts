import type { Item, Paste, Place } from '#contract/outline';
import { readOutline, type Reading } from '#core/outline-text.ts';
import { say } from '../ui/say.svelte.ts';
import type { OutlineEditor } from './outline-editor.svelte.ts';
import { takingBack } from './removals.ts';
import { nameOf, type ItemLine } from './words.ts';

export type Where = 'after' | 'inside' | 'end';

/** Whether a text is more than one line: such a paste is an outline, any other is ordinary. */
export const hasLines = (text: string): boolean => text.split(/[\r\n\v\f\u2028\u2029]/).filter((line) => line.trim() !== '').length > 1;

/*
 * An outline on its way in. States: away; open (text in hand, read anew at every change, nothing in the outline yet);
 * landed or put away, which are both away again; put away, the text stays in hand.
 */
export class Pasting {
  open = $state(false);
  text = $state('');
  where: Where = $state('end');
  withoutTitle = $state(true);
  readonly #editor: OutlineEditor;
  /** The line it was pasted on. */
  #at: string | null = $state(null);
  readonly reading: Reading = $derived.by(() => readOutline(this.text, this.#editor.film.row.rate, { into: this.place.parentId === null ? 'film' : 'part', withoutTitle: this.withoutTitle }));

  constructor(editor: OutlineEditor) {
    this.#editor = editor;
  }

  /** Opens with a text, for the line that was worked on; without one, with what was there when it was put away. */
  begin(text: string = this.text): void {
    const line = this.#editor.lineOf(this.#editor.currentId);
    this.#at = line?.row.id ?? null;
    this.where = line ? 'after' : 'end';
    this.text = text;
    this.withoutTitle = true;
    this.open = true;
  }

  get at(): ItemLine | null {
    return this.#editor.lineOf(this.#at);
  }

  /** The places to choose from, in words. */
  get places(): { value: Where; label: string }[] {
    const { at } = this;
    const end = { value: 'end', label: 'At the end of the outline' } as const;
    if (!at) return [end];
    const inside = at.row.kind === 'part' ? [{ value: 'inside', label: `Inside “${nameOf(at)}”, at its end` } as const] : [];
    return [{ value: 'after', label: `After “${nameOf(at)}”, at its level` }, ...inside, end];
  }

  get place(): Place {
    const { at } = this;
    if (at && this.where === 'after') return { parentId: at.row.parentId, afterId: at.row.id };
    if (at && this.where === 'inside') return { parentId: at.row.id, afterId: at.children.at(-1)?.row.id ?? null };
    return { parentId: null, afterId: this.#editor.lines.findLast(({ depth }) => depth === 0)?.row.id ?? null };
  }

  /** Puts the lines into the outline, as one change that one undo takes back. Throws ApiProblem. */
  async land(): Promise<void> {
    const { film } = this.#editor;
    const { items } = await film.api.post<{ items: Item[] }>('/items/paste', { place: this.place, lines: [...this.reading.lines] } satisfies Paste);
    this.open = false;
    this.text = '';
    say(items.length === 1 ? 'One line was put in.' : `${items.length} lines were put in.`, takingBack(film, items, () => this.#editor.lines));
    this.#editor.wanted = { id: items[0]!.id, field: 'name' };
  }
}
