import type { OutlineRow } from './outline.ts';
import { sameWish } from './wish.ts';

/*
 * The history of an outline. Every change is an event that carries the rows it changed whole, so the outline as it
 * stood after event n is the newest version of each row among the events up to n.
 */

/** A line as history needs it. */
export interface PastRow extends OutlineRow {
  readonly name: string;
  readonly role: string;
  readonly mustShow: string;
  readonly comesIn: string;
  readonly goesOut: string;
  readonly removedAt: string | null;
}

export interface PastEvent<Row extends PastRow> {
  readonly seq: number;
  readonly actorId: string | null;
  /** ISO 8601. */
  readonly at: string;
  readonly items: readonly Row[];
}

/** What became of one line between two states. */
export type Difference<Row extends PastRow> =
  | { readonly what: 'added' | 'removed'; readonly row: Row }
  | { readonly what: 'renamed' | 'moved' | 'length' | 'role' | 'words'; readonly row: Row; readonly was: Row };

const WORDS = ['mustShow', 'comesIn', 'goesOut'] as const;

/** What became of each line between two states, removed rows of both left out of account; a line that changed in several ways is named once for each. */
export function compareStates<Row extends PastRow>(before: readonly Row[], after: readonly Row[]): Difference<Row>[] {
  const living = (rows: readonly Row[]) => new Map(rows.filter(({ removedAt }) => removedAt === null).map((row) => [row.id, row]));
  const [old, now] = [living(before), living(after)];
  const changed = [...now.values()].flatMap((row): Difference<Row>[] => {
    const was = old.get(row.id);
    if (!was) return [{ what: 'added', row }];
    return [
      ...(was.name !== row.name ? [{ what: 'renamed', row, was } as const] : []),
      // A key is written by a move and by nothing else.
      ...(was.parentId !== row.parentId || was.orderKey !== row.orderKey ? [{ what: 'moved', row, was } as const] : []),
      ...(sameWish(was.wish, row.wish) && was.fitted === row.fitted ? [] : [{ what: 'length', row, was } as const]),
      ...(was.role !== row.role ? [{ what: 'role', row, was } as const] : []),
      ...(WORDS.some((field) => was[field] !== row[field]) ? [{ what: 'words', row, was } as const] : []),
    ];
  });
  return [...[...old.values()].filter(({ id }) => !now.has(id)).map((row) => ({ what: 'removed', row }) as const), ...changed];
}

/** A stretch of work by one person without a long pause. */
export interface Moment<Row extends PastRow> {
  /** Number of its last event: the state that it left. */
  readonly seq: number;
  readonly actorId: string | null;
  /** When it began and ended, ISO 8601. */
  readonly from: string;
  readonly at: string;
  readonly differences: readonly Difference<Row>[];
}

/** A pause as long as this ends a moment: our own choice. */
const PAUSE_MS = 10 * 60 * 1000;

/** Whether an event begins a moment after the one before it; see `momentsOf` for `ends`. */
export const beginsMoment = (last: Omit<PastEvent<never>, 'items'>, event: Omit<PastEvent<never>, 'items'>, ends: ReadonlySet<number>): boolean =>
  last.actorId !== event.actorId || ends.has(last.seq) || Date.parse(event.at) - Date.parse(last.at) >= PAUSE_MS;

/**
 * The moments of an outline, oldest first; those that left everything as it was are left out.
 * @param events those that carry rows of the outline, oldest first
 * @param ends numbers of states that have to stay reachable, such as named ones: a moment ends with each of them
 * @param before the lines that the events touch, as they stood before the first
 */
export function momentsOf<Row extends PastRow>(events: readonly PastEvent<Row>[], ends: ReadonlySet<number>, before: readonly Row[] = []): Moment<Row>[] {
  const state = new Map(before.map((row) => [row.id, row]));
  const moments: Moment<Row>[] = [];
  let group: PastEvent<Row>[] = [];

  function close(): void {
    const [first, last] = [group[0], group.at(-1)];
    if (!first || !last) return;
    const touched = new Set(group.flatMap(({ items }) => items.map(({ id }) => id)));
    const rows = () => [...touched].flatMap((id) => state.get(id) ?? []);
    const before = rows();
    for (const { items } of group) for (const row of items) state.set(row.id, row);
    const differences = compareStates(before, rows());
    if (differences.length > 0 || ends.has(last.seq)) moments.push({ seq: last.seq, actorId: last.actorId, from: first.at, at: last.at, differences });
    group = [];
  }

  for (const event of events) {
    const last = group.at(-1);
    if (last && beginsMoment(last, event, ends)) close();
    group.push(event);
  }
  close();
  return moments;
}
