import type { Offer as OfferRow } from '#prisma';
import type { Offer } from './contract.ts';

/** An offer as it is sent. */
export function toOffer(row: OfferRow): Offer {
  return {
    id: row.id,
    slotId: row.slotId,
    selectId: row.selectId,
    clipId: row.clipId,
    in: row.in,
    outExclusive: row.outExclusive,
    orderKey: row.orderKey,
    verdict: row.verdict,
    reason: row.reason,
    decidedById: row.decidedById,
    decidedAt: row.decidedAt?.toISOString() ?? null,
    offeredById: row.offeredById,
    offeredAt: row.offeredAt.toISOString(),
    cutInAt: row.cutInAt?.toISOString() ?? null,
    removedAt: row.removedAt?.toISOString() ?? null,
  };
}
