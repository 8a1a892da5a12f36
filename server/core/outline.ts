import type { Wish } from './wish.ts';

/*
 * The outline as a tree: rows name their parent and carry a key, everything else is worked out here, the same on the
 * server and in the page.
 */

/** What a row must have to stand in the outline. */
export interface OutlineRow {
  readonly id: string;
  readonly kind: 'part' | 'slot';
  readonly parentId: string | null;
  readonly orderKey: string;
  readonly wish: Wish;
  /** What a fit to music settled for a leaf, in frames; null for nothing. See fitted.ts. */
  readonly fitted: number | null;
}

/** A row where it stands. */
export interface Line<Row extends OutlineRow> {
  readonly row: Row;
  /** 0 for a sequence. */
  readonly depth: number;
  /** Its number: "2" is the second sequence, "2.1" the first line in it. */
  readonly label: string;
  readonly parent: Line<Row> | null;
  readonly children: readonly Line<Row>[];
}

type Growing<Row extends OutlineRow> = { -readonly [Field in keyof Line<Row>]: Line<Row>[Field] };

/** Order of siblings: by key, then by id, compared by code unit as Postgres does under the C locale. */
export function inOrder(a: Pick<OutlineRow, 'id' | 'orderKey'>, b: Pick<OutlineRow, 'id' | 'orderKey'>): number {
  return compare(a.orderKey, b.orderKey) || compare(a.id, b.id);
}

const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);

/**
 * The lines of an outline from top to bottom, each part before what is in it.
 * A row whose parent is not among the rows stands at the top level, so that nothing is ever hidden.
 */
export function outlineOrder<Row extends OutlineRow>(rows: readonly Row[]): Line<Row>[] {
  const known = new Set(rows.map(({ id }) => id));
  const below = Map.groupBy(rows, ({ parentId }) => (parentId !== null && known.has(parentId) ? parentId : null));
  const list: Line<Row>[] = [];

  function place(parent: Line<Row> | null): Line<Row>[] {
    return (below.get(parent?.row.id ?? null) ?? []).toSorted(inOrder).map((row, i) => {
      const label = parent ? `${parent.label}.${i + 1}` : `${i + 1}`;
      const line: Growing<Row> = { row, depth: parent ? parent.depth + 1 : 0, label, parent, children: [] };
      list.push(line);
      line.children = place(line);
      return line;
    });
  }

  place(null);
  return list;
}

/** The top-level line a line belongs to: itself when it is one. */
export function sequenceOf<Row extends OutlineRow>(line: Line<Row>): Line<Row> {
  return line.parent ? sequenceOf(line.parent) : line;
}

/** The lines of a branch: the line itself and all that is in it, from top to bottom. */
export function branchOf<Row extends OutlineRow>(line: Line<Row>): Line<Row>[] {
  return [line, ...line.children.flatMap(branchOf)];
}
