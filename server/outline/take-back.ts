import { sameWish } from '#core/wish.ts';
import type { Item } from './contract.ts';

/*
 * Taking a change of many lines back, and only that: what somebody changed since stays as they left it. A line is taken
 * back field by field; where it stands is one field.
 */

type Field = readonly (keyof Item)[];
const PLACE: Field = ['parentId', 'orderKey'];
/** Verdicts stay counted, and whether a line stands is decided apart from what it says. */
const APART: ReadonlySet<string> = new Set(['id', 'kind', 'decisions', 'removedAt', 'removalId', ...PLACE]);

export interface TakenBack {
  /** Lines that change, as they are to be. */
  readonly changed: readonly Item[];
  /** Lines that keep, whole or in part, what somebody did to them since, as they stand. */
  readonly kept: readonly Item[];
}

/**
 * @param rows every line of the outline as it stands, removed ones too
 * @param before the living lines as they stood before the change
 * @param after the lines the change wrote, as it left them
 * @param removal what lines that were not there before are removed with
 */
export function takeBack(rows: readonly Item[], before: readonly Item[], after: readonly Item[], removal: Pick<Item, 'removalId' | 'removedAt'>): TakenBack {
  const [now, then] = [new Map(rows.map((row) => [row.id, row])), new Map(before.map((row) => [row.id, row]))];
  const next = new Map(now);
  const kept = new Set<string>();
  for (const left of after) {
    const [row, was] = [now.get(left.id), then.get(left.id)];
    if (!row) continue;
    if (row.removedAt !== null) {
      if (was && left.removedAt === null) kept.add(row.id);
      else if (was && row.removalId === left.removalId) next.set(row.id, { ...was, decisions: row.decisions });
    } else if (was || left.removedAt === null) {
      const fields = [PLACE, ...Object.keys(row).filter((field) => !APART.has(field)).map((field) => [field] as Field)];
      const since = fields.filter((field) => !same(row, left, field) && !(was && same(row, was, field)));
      if (since.length > 0) kept.add(row.id);
      if (was) next.set(row.id, fields.filter((field) => same(row, left, field)).reduce((line, field) => withField(line, was, field), row));
      else if (since.length === 0) next.set(row.id, { ...row, ...removal });
    }
  }
  makeTree(now, next, kept);
  const changed = [...next.values()].filter((row) => (Object.keys(row) as (keyof Item)[]).some((field) => !same(row, now.get(row.id)!, [field])));
  return { changed, kept: [...kept].map((id) => now.get(id)!) };
}

/** Nothing stands in what is removed, and nothing in itself: what would, stays as it is, as long as that is needed. */
function makeTree(now: ReadonlyMap<string, Item>, next: Map<string, Item>, kept: Set<string>): void {
  for (let wrong = true; wrong; ) {
    wrong = false;
    for (const row of next.values()) {
      if (row.removedAt !== null) continue;
      const old = now.get(row.id)!;
      const parent = row.parentId === null ? null : next.get(row.parentId)!;
      const moved = !same(row, old, PLACE);
      if (!parent || (parent.removedAt === null && !(moved && isInItself(next, row)))) continue;
      wrong = true;
      // Its place is gone; or somebody put it into a line that was to go, and then that one stays.
      const [id, stays] = old.removedAt !== null ? [row.id, old] : moved ? [row.id, withField(row, old, PLACE)] : [parent.id, now.get(parent.id)!];
      next.set(id, stays);
      kept.add(id);
    }
  }
}

function isInItself(rows: ReadonlyMap<string, Item>, { id, parentId }: Item): boolean {
  const above = new Set<string>();
  for (let at = parentId; at !== null && !above.has(at); at = rows.get(at)!.parentId) above.add(at);
  return above.has(id);
}

const same = (a: Item, b: Item, field: Field): boolean => field.every((key) => (key === 'wish' ? sameWish(a.wish, b.wish) : a[key] === b[key]));

const withField = (line: Item, from: Item, field: Field): Item => ({ ...line, ...Object.fromEntries(field.map((key) => [key, from[key]])) });
