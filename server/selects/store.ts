import type { Clip, Select as SelectRow } from '#prisma';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Select } from './contract.ts';
import { toSelect } from './rows.ts';

/** The selects of some clips in the order they were made; removed ones are left out. */
export async function listSelects(tx: Tx, filmId: string, clipIds: readonly string[]): Promise<Select[]> {
  const rows = await tx.select.findMany({ where: { filmId, removedAt: null, clipId: { in: [...clipIds] } }, orderBy: { id: 'asc' } });
  return rows.map(toSelect);
}

/** A clip of this film, as far as marks on it need to know. Throws `not-found`, or `removed-meanwhile` when it was taken away. */
export async function liveClip(tx: Tx, filmId: string, clipId: string): Promise<Pick<Clip, 'id' | 'frames'>> {
  const clip = await tx.clip.findFirst({ where: { id: clipId, filmId }, select: { id: true, frames: true, removedAt: true } });
  if (!clip) throw new Refusal('not-found', 'This film has no such clip.', { fields: [{ field: 'clipId', why: 'names no clip of this film' }] });
  if (clip.removedAt) throw new Refusal('removed-meanwhile', 'The clip was removed; restore it first.');
  return clip;
}

/** A select of this film, removed or not, held until the transaction ends, with its clip. Throws `not-found`. */
export async function lockSelect(tx: Tx, filmId: string, selectId: string): Promise<SelectRow & { clip: Clip }> {
  await tx.$queryRaw`SELECT id FROM "select" WHERE id = ${selectId} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.select.findFirst({ where: { id: selectId, filmId }, include: { clip: true } });
  if (!row) throw new Refusal('not-found', 'This film has no such select.');
  return row;
}
