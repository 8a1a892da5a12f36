import type { Family as FamilyRow, FamilyMember } from '#prisma';
import type { Family } from './contract.ts';

/** A family as it is sent. */
export function toFamily(row: FamilyRow & { members: FamilyMember[] }): Family {
  return {
    id: row.id,
    members: row.members.map(({ clipId, offsetNum, offsetDen, by }) => ({
      clipId,
      offset: offsetNum === null || offsetDen === null ? null : { num: Number(offsetNum), den: Number(offsetDen) },
      by,
    })),
    madeById: row.madeById,
    madeAt: row.madeAt.toISOString(),
    removedAt: row.removedAt?.toISOString() ?? null,
  };
}
