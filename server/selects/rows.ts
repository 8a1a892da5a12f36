import type { Select as SelectRow } from '#prisma';
import type { Select } from './contract.ts';

/** A select as it is sent. */
export function toSelect(row: SelectRow): Select {
  return {
    id: row.id,
    clipId: row.clipId,
    in: row.in,
    outExclusive: row.outExclusive,
    circled: row.circled,
    label: row.label,
    madeById: row.madeById,
    madeAt: row.madeAt.toISOString(),
    removedAt: row.removedAt?.toISOString() ?? null,
  };
}
