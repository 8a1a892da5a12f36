import { placeAt, type Place } from '#core/outline-moves.ts';
import type { OutlineEditor } from './outline-editor.svelte.ts';
import type { ItemLine } from './words.ts';

type Where = 'before' | 'inside' | 'after';

/**
 * Moving a line with the pointer. States: at rest; dragging (a line is held, and `over` says where it would go, when
 * it would go anywhere); let go there, or Escape, or a lost pointer, ends it. Everything it does can be done by keys
 * and buttons as well.
 */
export class LineDrag {
  line: ItemLine | null = $state.raw(null);
  over: { id: string; where: Where; place: Place } | null = $state.raw(null);
  readonly #editor: OutlineEditor;
  #release: AbortController | null = null;

  constructor(editor: OutlineEditor) {
    this.#editor = editor;
  }

  /** Takes hold of a line at its grip. */
  begin(event: PointerEvent, id: string): void {
    const line = this.#editor.lineOf(id);
    if (event.button !== 0 || !line) return;
    event.preventDefault();
    this.end();
    this.line = line;
    this.#release = new AbortController();
    const { signal } = this.#release;
    addEventListener('pointermove', (move) => this.#follow(move), { signal });
    addEventListener('pointerup', () => this.#letGo(), { signal });
    addEventListener('pointercancel', () => this.end(), { signal });
    addEventListener('keydown', (key) => key.key === 'Escape' && this.end(), { signal });
  }

  /** Lets go without moving anything. */
  end(): void {
    this.#release?.abort();
    this.#release = null;
    this.line = null;
    this.over = null;
  }

  #letGo(): void {
    const { line, over } = this;
    this.end();
    if (line && over) this.#editor.drop(line, over.place);
  }

  #follow({ clientX, clientY }: PointerEvent): void {
    const element = document.elementFromPoint(clientX, clientY)?.closest<HTMLElement>('[data-line]');
    const target = this.#editor.lineOf(element?.dataset.line ?? null);
    const { lines } = this.#editor;
    const moved = this.#editor.lineOf(this.line?.row.id ?? null);
    this.over = null;
    if (!element || !target || !moved) return;
    const box = element.getBoundingClientRect();
    const where = whereIn(target, (clientY - box.top) / box.height);
    const place = placeAt(lines, moved, target, where);
    if (place) this.over = { id: target.row.id, where, place };
  }
}

/** Below the name of a part that holds lines is inside it: that is what lies there on the page. */
function whereIn({ row, children }: ItemLine, share: number): Where {
  if (row.kind === 'slot') return share < 0.5 ? 'before' : 'after';
  if (children.length > 0) return share < 0.5 ? 'before' : 'inside';
  return share < 0.3 ? 'before' : share < 0.7 ? 'inside' : 'after';
}
