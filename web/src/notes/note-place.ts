import type { Note } from '#contract/notes';
import { timecodeOf } from '#core/timecode.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { clockOf } from '../ui/clock.ts';

/** What a new note is on; exactly one, as the API asks. */
export type NoteSubject = { clipId: string } | { offerId: string } | { slotId: string } | { parentId: string };

/** Where a note speaks of its clip: "10:00:04:12", or "10:00:04:12 to 10:00:06:00" with the last frame of a span; null without frames. */
export function placeWords(film: FilmState, note: Pick<Note, 'clipId' | 'in' | 'outExclusive'>): string | null {
  if (note.clipId === null || note.in === null || note.outExclusive === null) return null;
  const clip = film.clips.get(note.clipId);
  const clock = clip && clockOf(clip);
  const label = (frame: number) => (clock ? timecodeOf(frame, clock) : `frame ${frame}`);
  return note.outExclusive - note.in === 1 ? label(note.in) : `${label(note.in)} to ${label(note.outExclusive - 1)}`;
}
