import { outlineOrder } from '#core/outline.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { FitAdoption, Item } from './contract.ts';
import { toItem } from './rows.ts';
import { lockOutline } from './store.ts';

/**
 * Keeps lengths that a fit settled, all at once; wishes stay. Answers the leaves of the outline.
 * @throws Refusal changed-meanwhile when the outline, the music, its marks or ties, or the film changed after what the
 *   lengths were worked out from; bad-input when they are not one for every leaf, summing to the running time.
 */
export async function adoptFit(tx: Tx, filmId: string, { seen, lengths }: FitAdoption): Promise<Item[]> {
  const rows = (await lockOutline(tx, filmId)).filter(({ removedAt }) => removedAt === null);
  // The film comes last, as in every write; with it held nobody else's change can come between the look and the writing.
  const [film] = await tx.$queryRaw<{ frames: number }[]>`SELECT target_frames AS frames FROM film WHERE id = ${filmId} FOR UPDATE`;
  const [newer] = await tx.$queryRaw<{ seq: number }[]>`
    SELECT seq FROM event WHERE film_id = ${filmId} AND seq > ${seen} AND rows <> '{}'::jsonb
      AND split_part(kind, '.', 1) IN ('item', 'outline', 'track', 'mark', 'marks', 'tie', 'film') LIMIT 1`;
  if (newer) throw new Refusal('changed-meanwhile', 'The outline, the music or its marks changed in the meantime, so these lengths may not fit them any more.');
  checkLengths(rows.map(toItem), lengths, film!.frames);
  const items = await tx.$queryRaw<{ id: string }[]>`
    UPDATE item SET fitted_frames = t.frames FROM jsonb_to_recordset(${JSON.stringify(lengths)}::jsonb) AS t(id text, frames int)
    WHERE item.id = t.id AND item.film_id = ${filmId} RETURNING item.id`;
  return (await tx.item.findMany({ where: { id: { in: items.map(({ id }) => id) } } })).map(toItem);
}

function checkLengths(items: readonly Item[], lengths: FitAdoption['lengths'], total: number): void {
  const leaves = new Set(outlineOrder(items).filter(({ children }) => children.length === 0).map(({ row }) => row.id));
  for (const [i, { id }] of lengths.entries())
    if (!leaves.delete(id)) throw new Refusal('bad-input', 'Lengths are fitted to lines with nothing inside, each once.', { fields: [{ field: `lengths.${i}.id`, why: 'names no such line, or one named before' }] });
  if (leaves.size > 0) throw new Refusal('bad-input', `${leaves.size} lines have no length; a fit has one for every line with nothing inside.`, { fields: [{ field: 'lengths', why: 'leaves lines out' }] });
  const sum = lengths.reduce((all, { frames }) => all + frames, 0);
  if (sum !== total) throw new Refusal('bad-input', `The lengths sum to ${sum} frames, and the film runs ${total}.`, { fields: [{ field: 'lengths', why: `sum to ${sum}, not ${total}` }] });
}

/** Puts the fitted lengths away, so that the budget alone has its say. @throws Refusal as-it-is where there are none. */
export async function dropFit(tx: Tx, filmId: string): Promise<Item[]> {
  await lockOutline(tx, filmId);
  const items = await tx.item.updateManyAndReturn({ where: { filmId, fitted: { not: null } }, data: { fitted: null } });
  if (items.length === 0) throw new Refusal('as-it-is', 'No lengths are fitted.');
  return items.map(toItem);
}
