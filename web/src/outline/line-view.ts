import type { Item } from '#contract/outline';
import type { Conflict } from '#core/budget.ts';
import { sameWish } from '#core/wish.ts';
import type { OutlineEditor } from './outline-editor.svelte.ts';
import type { Picked } from './picked.ts';

/** All that a line of the page shows. */
export interface LineView {
  readonly row: Item;
  /** 0 for a sequence. */
  readonly depth: number;
  readonly label: string;
  /** What the budget gives it, in frames of the film. */
  readonly gets: number;
  /** Whether that is fitted to the music. */
  readonly fitted: boolean;
  readonly conflict: Conflict | null;
  readonly current: boolean;
  /** Its length is being typed. */
  readonly proposing: boolean;
  readonly standing: 'empty' | 'offered' | 'approved';
  readonly offers: number;
  readonly picked: Picked | null;
  readonly tied: boolean;
}

/**
 * Makes what every line shows, as often as asked. A line that shows the same as before is the same object as before:
 * so the page makes anew what changed, however long the outline is.
 */
export function lineViews(editor: OutlineEditor): (picked: ReadonlyMap<string, Picked>) => readonly LineView[] {
  let before = new Map<string, LineView>();
  return (picked) => {
    const { film, budget, currentId, proposed } = editor;
    const conflicts = new Map(budget.conflicts.map((conflict) => [conflict.id, conflict]));
    const now = editor.lines.map(({ row, depth, label }): LineView => {
      const standing = film.standingOf(row.id);
      const view: LineView = {
        row,
        depth,
        label,
        gets: budget.lines.get(row.id)?.frames ?? 0,
        fitted: budget.fit === 'holds',
        conflict: conflicts.get(row.id) ?? null,
        current: row.id === currentId,
        proposing: row.id === proposed?.id,
        standing: standing.is,
        offers: standing.is === 'offered' ? standing.count : 0,
        picked: picked.get(row.id) ?? null,
        tied: film.tieOf(row.id) !== null,
      };
      const old = before.get(row.id);
      return old && same(old, view) ? old : view;
    });
    before = new Map(now.map((view) => [view.row.id, view]));
    return now;
  };
}

/** Whether two views show the same; rows, conflicts and picks are made anew where nothing changed in them. */
function same(a: LineView, b: LineView): boolean {
  return (
    a.depth === b.depth && a.label === b.label && a.gets === b.gets && a.fitted === b.fitted && a.current === b.current && a.proposing === b.proposing &&
    a.standing === b.standing && a.offers === b.offers && a.tied === b.tied &&
    sameRow(a.row, b.row) && sameFields(a.conflict, b.conflict) && sameFields(a.picked, b.picked)
  );
}

const sameRow = (a: Item, b: Item): boolean => a === b || (sameWish(a.wish, b.wish) && sameFields({ ...a, wish: null }, { ...b, wish: null }));

function sameFields<T extends object>(a: T | null, b: T | null): boolean {
  if (a === b || !a || !b) return a === b;
  return (Object.keys(a) as (keyof T)[]).every((field) => a[field] === b[field]);
}
