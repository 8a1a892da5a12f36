import type { Action, Role } from '../access/contract.ts';
import type { Clip } from '../footage/contract.ts';
import type { Note } from '../notes/contract.ts';
import type { Rows, TableName } from './contract.ts';

/** What one must be allowed to read to be sent rows of a table. */
const TABLE_ACTION: Record<TableName, Action> = {
  film: 'film.read',
  members: 'film.read',
  items: 'outline.read',
  clips: 'clips.read',
  uploads: 'clips.read',
  cards: 'clips.read',
  selects: 'selects.read',
  offers: 'offers.read',
  notes: 'notes.read',
  tracks: 'music.read',
  marks: 'music.read',
  ties: 'music.read',
  families: 'selects.read',
};

/**
 * The rows of a change that a role may see.
 * Who may not read clips still sees those on offer, since an offer cannot be played without its clip's rate, and the
 * notes on offers and slots.
 * @param offered ids of clips with a live offer in this film.
 */
export function visibleRows(rows: Rows, can: ReadonlySet<Action>, offered: ReadonlySet<string>): Rows {
  const seen: Rows = {};
  const all = can.has('clips.read');
  for (const table of Object.keys(rows) as TableName[]) {
    if (can.has(TABLE_ACTION[table])) Object.assign(seen, { [table]: rows[table] });
    else if (table === 'clips') seen.clips = (rows.clips ?? []).filter((clip) => offered.has(clip.id)).map(onlyPlayable);
  }
  if (!all && seen.notes) seen.notes = seen.notes.filter(isOnOffer);
  return seen;
}

/** A clip without what only the crew needs to know of its file. */
function onlyPlayable(clip: Clip): Clip {
  return { ...clip, xxh64: '', bytes: 0, failure: null, location: '', capturedAt: null, capturedZone: null, notedAt: null, notedZone: null, place: null, aside: null };
}

function isOnOffer(note: Note): boolean {
  return note.offerId !== null || note.slotId !== null;
}

/** Socket.io room of those who follow a film in a role. */
export function roomOf(film: string, role: Role, mayComment: boolean): string {
  return `film:${film}:${role}${role === 'viewer' && !mayComment ? ':silent' : ''}`;
}
