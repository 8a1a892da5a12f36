import { Refusal } from '../platform/errors.ts';
import type { NewNote } from './contract.ts';

/** What a note is on. */
export type Subject = { on: 'clip' | 'offer' | 'slot' | 'note'; id: string };

/** The one thing a new note is on. Throws `note-subject` when it names none or several. */
export function subjectOf({ clipId, offerId, slotId, parentId }: NewNote): Subject {
  const named = Object.entries({ clip: clipId, offer: offerId, slot: slotId, note: parentId }).filter(([, id]) => id !== undefined);
  const [first, second] = named;
  if (!first || second)
    throw new Refusal('note-subject', undefined, { fields: [{ field: 'clipId', why: 'give exactly one of clipId, offerId, slotId and parentId' }] });
  return { on: first[0] as Subject['on'], id: first[1]! };
}

/**
 * The stretch a note speaks of: `in` alone is one frame, neither is the whole of it.
 * Only notes on a clip or an offer have frames of their own: a slot has none, a reply has those of the note it answers.
 * Throws `bad-range` for the rest.
 */
export function stretchOf({ in: first, outExclusive }: NewNote, { on }: Subject): { in: number; outExclusive: number } | null {
  if (first === undefined && outExclusive === undefined) return null;
  const refuse = (field: string, why: string) => new Refusal('bad-range', `${field} ${why}`, { fields: [{ field, why }] });
  if (on === 'slot') throw refuse('in', 'is for notes on a clip or an offer; a slot has no frames');
  if (on === 'note') throw refuse('in', 'is left out in a reply, which is on the frames of the note it answers');
  if (first === undefined) throw refuse('in', 'is missing; give the first frame too');
  return { in: first, outExclusive: outExclusive ?? first + 1 };
}

/** A drawing is over a frame. Throws `bad-input` for one on a note that has none. */
export function checkDrawing(drawing: object | null | undefined, stretch: { in: number | null } | null): void {
  if (drawing && (stretch === null || stretch.in === null))
    throw new Refusal('bad-input', 'A drawing needs a frame to be drawn over; give in.', { fields: [{ field: 'drawing', why: 'is on a note without a frame' }] });
}

/** Who may not read the crew's clips writes where offers are shown to them, and nowhere else. Throws `not-allowed`. */
export function checkMayWriteOn(note: { offerId: string | null }, can: ReadonlySet<string>): void {
  if (!can.has('clips.read') && note.offerId === null) throw new Refusal('not-allowed', 'You may write notes on offers and answer notes there.');
}

/** Throws `not-author` unless the words are one's own. */
export function checkAuthor(note: { authorId: string }, userId: string): void {
  if (note.authorId !== userId) throw new Refusal('not-author');
}

/** Who settles notes may also remove those of others. Throws `not-author`. */
export function checkMayRemove(note: { authorId: string }, userId: string, can: ReadonlySet<string>): void {
  if (note.authorId !== userId && !can.has('notes.settle')) throw new Refusal('not-author', 'Only who wrote a note, or who settles notes, can remove it or bring it back.');
}
