import { budgetOf } from '#core/budget.ts';
import { outlineOrder } from '#core/outline.ts';
import { checkShape } from '#core/shape-check.ts';
import type { Film } from '../films/contract.ts';
import { toFilm } from '../films/index.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { RemarkChange } from './contract.ts';
import { listItems } from './store.ts';

/**
 * Puts a remark of the shape check away for everybody, or brings it back. Keys of remarks that do not apply any more
 * are dropped with it, so that the list stays as short as the outline.
 * @throws Refusal remark-gone when there is no such remark to put away.
 */
export async function dismissRemark(tx: Tx, filmId: string, { key, dismissed }: RemarkChange): Promise<Film> {
  // The film is locked last by everybody who writes, and this writes nothing else.
  await tx.$executeRaw`SELECT id FROM film WHERE id = ${filmId} FOR UPDATE`;
  const film = toFilm(await tx.film.findUniqueOrThrow({ where: { id: filmId } }));
  const lines = outlineOrder(await listItems(tx, filmId));
  const keys = new Set(checkShape(lines, budgetOf(lines, film.targetFrames, film.rate), { runningTime: film.targetFrames, ...film }).map((remark) => remark.key));
  if (dismissed && !keys.has(key)) throw new Refusal('remark-gone');
  const kept = film.dismissed.filter((other) => other !== key && keys.has(other));
  return toFilm(await tx.film.update({ where: { id: filmId }, data: { dismissed: dismissed ? [...kept, key] : kept } }));
}
