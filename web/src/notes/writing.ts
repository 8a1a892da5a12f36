import type { Drawing, Note } from '#contract/notes';
import type { FilmState } from '../live/film-state.svelte.ts';
import { newId } from '../live/new-id.ts';
import { say } from '../ui/say.svelte.ts';
import type { NoteSubject } from './note-place.ts';

interface Writing {
  text: string;
  addressed: string[];
  on: NoteSubject;
  /** Frames of the clip; null for the whole subject. */
  span: { in: number; outExclusive: number } | null;
  drawing: Drawing | null;
}

/** Writes a new note: it stands at once, and goes out when the server can be reached. @returns it as it will be. */
export function writeNote(film: FilmState, { text, addressed, on, span, drawing }: Writing): Note {
  const id = newId();
  const row: Note = {
    ...{ id, clipId: null, offerId: null, slotId: null, parentId: null, in: span?.in ?? null, outExclusive: span?.outExclusive ?? null },
    ...placeOf(film, on),
    ...{ text, drawing, addressed, authorId: film.mine.userId, writtenAt: new Date().toISOString(), editedAt: null, settledAt: null, settledById: null, removedAt: null },
  };
  const words = `The note “${text}”`;
  film.strokes.do({ method: 'POST', path: '/notes', body: { id, text, addressed, ...on, ...span, ...(drawing && { drawing }) }, words, shows: { table: 'notes', id, row } });
  say('Note written.', {
    undo: () => film.strokes.do({ method: 'DELETE', path: `/notes/${id}`, words, shows: { table: 'notes', id, gone: true } }),
    again: () => film.strokes.do({ method: 'POST', path: `/notes/${id}/restore`, words, shows: { table: 'notes', id, row } }),
  });
  return row;
}

/** Where a new note stands: a reply where the note does that it answers, and below the same first note. */
function placeOf(film: FilmState, on: NoteSubject): Partial<Note> {
  if ('offerId' in on) return { offerId: on.offerId, clipId: film.offers.get(on.offerId)?.clipId ?? null };
  if (!('parentId' in on)) return on;
  const parent = film.notes.get(on.parentId);
  if (!parent) return on;
  const { clipId, offerId, slotId, in: first, outExclusive } = parent;
  return { clipId, offerId, slotId, in: first, outExclusive, parentId: parent.parentId ?? parent.id };
}
