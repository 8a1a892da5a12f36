import type { Note as NoteRow } from '#prisma';
import type { Drawing, Note } from './contract.ts';

/** A note as it is sent. */
export function toNote(row: NoteRow): Note {
  return {
    id: row.id,
    clipId: row.clipId,
    offerId: row.offerId,
    slotId: row.slotId,
    parentId: row.parentId,
    in: row.in,
    outExclusive: row.outExclusive,
    text: row.text,
    // Written by this server after the same schema checked it.
    drawing: row.drawing as Drawing | null,
    addressed: row.addressed,
    authorId: row.authorId,
    writtenAt: row.writtenAt.toISOString(),
    editedAt: row.editedAt?.toISOString() ?? null,
    settledAt: row.settledAt?.toISOString() ?? null,
    settledById: row.settledById,
    removedAt: row.removedAt?.toISOString() ?? null,
  };
}
