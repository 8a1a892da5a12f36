import type { Note as NoteRow } from '#prisma';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import { checkInClip, liveClip } from '../selects/index.ts';
import type { NewNote, Note } from './contract.ts';
import { toNote } from './rows.ts';
import { stretchOf, subjectOf, type Subject } from './rules.ts';

/** The notes on some clips and on offers made of them, in the order they were written, replies among them; removed ones are left out. */
export async function listNotesOfClips(tx: Tx, filmId: string, clipIds: readonly string[]): Promise<Note[]> {
  const rows = await tx.note.findMany({ where: { filmId, removedAt: null, clipId: { in: [...clipIds] } }, orderBy: { id: 'asc' } });
  return rows.map(toNote);
}

/** The notes on slots, as `listNotesOfClips`. */
export async function listNotesOfSlots(tx: Tx, filmId: string): Promise<Note[]> {
  const rows = await tx.note.findMany({ where: { filmId, removedAt: null, slotId: { not: null } }, orderBy: { id: 'asc' } });
  return rows.map(toNote);
}

/** Where a note stands: the columns that say what it is on. */
export type Standing = Pick<NoteRow, 'clipId' | 'offerId' | 'slotId' | 'parentId' | 'in' | 'outExclusive'>;

const NOWHERE: Standing = { clipId: null, offerId: null, slotId: null, parentId: null, in: null, outExclusive: null };

/**
 * Where a new note will stand. A reply stands where the note it answers does, and a reply to a reply hangs below the
 * same first note. Throws `note-subject`, `bad-range`, `clip-not-ready`, `not-found`, `removed-meanwhile`.
 */
export async function placeNote(tx: Tx, filmId: string, asked: NewNote): Promise<Standing> {
  const subject = subjectOf(asked);
  const stretch = stretchOf(asked, subject);
  const { standing, clip } = await place(tx, filmId, subject);
  if (!stretch || !clip) return standing;
  checkInClip(stretch, clip);
  return { ...standing, ...stretch };
}

/** Without a stretch of its own yet; with the clip whose frames a stretch would be in. */
async function place(tx: Tx, filmId: string, { on, id }: Subject): Promise<{ standing: Standing; clip: { frames: number | null } | null }> {
  if (on === 'clip') {
    const clip = await liveClip(tx, filmId, id);
    return { standing: { ...NOWHERE, clipId: clip.id }, clip };
  }
  if (on === 'offer') {
    const offer = living(await tx.offer.findFirst({ where: { id, filmId }, include: { clip: true } }), 'offerId');
    return { standing: { ...NOWHERE, clipId: offer.clipId, offerId: offer.id }, clip: offer.clip };
  }
  if (on === 'slot') {
    const slot = living(await tx.item.findFirst({ where: { id, filmId, kind: 'slot' } }), 'slotId');
    return { standing: { ...NOWHERE, slotId: slot.id }, clip: null };
  }
  const { clipId, offerId, slotId, in: first, outExclusive, ...parent } = living(await tx.note.findFirst({ where: { id, filmId } }), 'parentId');
  return { standing: { clipId, offerId, slotId, parentId: parent.parentId ?? parent.id, in: first, outExclusive }, clip: null };
}

function living<T extends { removedAt: Date | null }>(row: T | null, field: string): T {
  if (!row) throw new Refusal('not-found', undefined, { fields: [{ field, why: 'names nothing in this film' }] });
  if (row.removedAt) throw new Refusal('removed-meanwhile');
  return row;
}

/** A note of this film, removed or not, held until the transaction ends. Throws `not-found`. */
export async function lockNote(tx: Tx, filmId: string, noteId: string): Promise<NoteRow> {
  await tx.$queryRaw`SELECT id FROM note WHERE id = ${noteId} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.note.findFirst({ where: { id: noteId, filmId } });
  if (!row) throw new Refusal('not-found', 'This film has no such note.');
  return row;
}

/** The people addressed, each once. Throws `unknown-member` for anyone who is not in the film. */
export async function checkAddressed(tx: Tx, filmId: string, addressed: readonly string[]): Promise<string[]> {
  const asked = [...new Set(addressed)];
  if (asked.length === 0) return asked;
  const known = new Set((await tx.member.findMany({ where: { filmId, userId: { in: asked } }, select: { userId: true } })).map(({ userId }) => userId));
  const unknown = asked.filter((id) => !known.has(id));
  if (unknown.length) throw new Refusal('unknown-member', undefined, { fields: [{ field: 'addressed', why: `names ${unknown.join(', ')}, not of this film` }] });
  return asked;
}
