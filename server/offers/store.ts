import type { Clip, Item, Offer as OfferRow, Select } from '#prisma';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Offer } from './contract.ts';
import { toOffer } from './rows.ts';

/** The offers of a film, slot by slot in their order; removed ones are left out. */
export async function listOffers(tx: Tx, filmId: string): Promise<Offer[]> {
  const rows = await tx.offer.findMany({ where: { filmId, removedAt: null }, orderBy: [{ slotId: 'asc' }, { orderKey: 'asc' }, { id: 'asc' }] });
  return rows.map(toOffer);
}

/**
 * A slot of this film, held until the transaction ends: whatever changes its offers takes turns here.
 * NO KEY, so that writing a note on the slot does not wait for it. Throws `not-found`, `removed-meanwhile`.
 */
export async function lockSlot(tx: Tx, filmId: string, slotId: string): Promise<Item> {
  await tx.$queryRaw`SELECT id FROM item WHERE id = ${slotId} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const slot = await tx.item.findFirst({ where: { id: slotId, filmId, kind: 'slot' } });
  if (!slot) throw new Refusal('not-found', 'This film has no such slot.', { fields: [{ field: 'slotId', why: 'names no slot of this film' }] });
  if (slot.removedAt) throw new Refusal('removed-meanwhile', 'The slot was removed; restore it first.');
  return slot;
}

/** A select that can be offered, with its clip. Throws `not-found`, `removed-meanwhile`. */
export async function liveSelect(tx: Tx, filmId: string, selectId: string): Promise<Select & { clip: Clip }> {
  const select = await tx.select.findFirst({ where: { id: selectId, filmId }, include: { clip: true } });
  if (!select) throw new Refusal('not-found', 'This film has no such select.', { fields: [{ field: 'selectId', why: 'names no select of this film' }] });
  if (select.removedAt || select.clip.removedAt) throw new Refusal('removed-meanwhile', 'The select or its clip was removed; restore it first.');
  return select;
}

/** An offer and its slot with all its offers, held. The slot is locked first, always. Throws as `lockSlot`. */
export async function lockOffer(tx: Tx, filmId: string, offerId: string): Promise<{ offer: OfferRow & { clip: Clip }; slot: Item; offers: OfferRow[] }> {
  const found = await tx.offer.findFirst({ where: { id: offerId, filmId }, select: { slotId: true } });
  if (!found) throw new Refusal('not-found', 'This film has no such offer.');
  const slot = await lockSlot(tx, filmId, found.slotId);
  const offers = await tx.offer.findMany({ where: { slotId: slot.id }, orderBy: [{ orderKey: 'asc' }, { id: 'asc' }] });
  const offer = await tx.offer.findUniqueOrThrow({ where: { id: offerId }, include: { clip: true } });
  return { offer, slot, offers };
}

/** Counts one more decision in a slot. */
export async function countDecision(tx: Tx, slotId: string): Promise<Item> {
  return tx.item.update({ where: { id: slotId }, data: { decisions: { increment: 1 } } });
}
