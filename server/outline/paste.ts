import { randomUUID } from 'node:crypto';
import { spread } from '#core/order.ts';
import type { Tx } from '../platform/db.ts';
import type { Item, Paste, WholeLine } from './contract.ts';
import { toColumns } from './rows.ts';
import { checkWhole, keysAt } from './rules.ts';
import { lockOutline } from './store.ts';

/** Puts a whole tree of lines at a place, in the order given. @throws Refusal as `checkWhole` and `keysAt`. */
export async function pasteLines(tx: Tx, filmId: string, { place, lines }: Paste): Promise<Item[]> {
  checkWhole(lines);
  const rows = await lockOutline(tx, filmId);
  const tops = lines.filter(({ depth }) => depth === 0);
  const topKeys = keysAt(rows, { id: null, kind: tops.some(({ kind }) => kind === 'slot') ? 'slot' : 'part' }, place, tops.length);
  const items = placed(lines, place.parentId, topKeys).map(({ depth: _, ...line }): Item => ({ ...line, fitted: null, decisions: 0, removedAt: null, removalId: null }));
  await insertItems(tx, filmId, items);
  return items;
}

/** One statement with one parameter: thousands of rows by way of the client's own insert take many times as long. */
async function insertItems(tx: Tx, filmId: string, items: readonly Item[]): Promise<void> {
  const rows = items.map((item) => ({ ...toColumns(item), film_id: filmId }));
  await tx.$executeRaw`
    INSERT INTO item (id, film_id, kind, parent_id, order_key, name, role, target_frames, min_frames, max_frames, share, must_show, comes_in, goes_out)
    SELECT id, film_id, kind, parent_id, order_key, name, role, target_frames, min_frames, max_frames, share, must_show, comes_in, goes_out
    FROM jsonb_populate_recordset(null::item, ${JSON.stringify(rows)}::jsonb)`;
}

/** Lines with the ids, parents and keys they get. */
function placed(lines: readonly WholeLine[], parentId: string | null, topKeys: readonly string[]) {
  /** Ids of the line before and of the parts it is in, by depth. */
  const open: string[] = [];
  const withParents = lines.map((line) => {
    const id = randomUUID();
    open.length = line.depth;
    const row = { ...line, id, parentId: open.at(-1) ?? parentId };
    open.push(id);
    return row;
  });
  const keys = new Map<string, string>();
  for (const [parent, children] of Map.groupBy(withParents, (row) => row.parentId)) {
    const own = parent === parentId ? topKeys : spread(null, null, children.length);
    for (const [i, { id }] of children.entries()) keys.set(id, own[i]!);
  }
  return withParents.map((row) => ({ ...row, orderKey: keys.get(row.id)! }));
}
