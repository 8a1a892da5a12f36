import type { Component } from 'svelte';
import type { Action } from '#contract/access';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { RoomId } from './address.ts';

/** What a room is given. `subject` is what its address names after the room: a clip in the sweep, a slot in the picks. */
export interface RoomProps {
  film: FilmState;
  subject: string | null;
  /** The frame the address names, or null. */
  frame: number | null;
}

export interface Room {
  id: RoomId;
  name: string;
  /** Paper to read and write on; neutral grey where colour is judged. */
  surround: 'paper' | 'picture';
  /** False for one that is opened from a clip and stands in no list of rooms. */
  listed?: false;
  /** Who may not do this does not see the room. */
  needs: Action;
  load: () => Promise<{ default: Component<RoomProps> }>;
}

/** The rooms of a film, in the order of the job. A new one is a line here, its id in address.ts, and its component. */
export const ROOMS: readonly Room[] = [
  { id: 'outline', name: 'Outline', surround: 'paper', needs: 'outline.read', load: () => import('../outline/OutlineRoom.svelte') },
  { id: 'footage', name: 'Footage', surround: 'paper', needs: 'clips.read', load: () => import('../footage/FootageRoom.svelte') },
  { id: 'cards', name: 'Cards', surround: 'paper', needs: 'clips.read', load: () => import('../cards/CardsRoom.svelte') },
  { id: 'sweep', name: 'Sweep', surround: 'picture', needs: 'clips.read', load: () => import('../sweep/SweepRoom.svelte') },
  { id: 'family', name: 'Family', surround: 'picture', listed: false, needs: 'selects.read', load: () => import('../families/FamilyRoom.svelte') },
  { id: 'music', name: 'Music', surround: 'paper', needs: 'music.read', load: () => import('../music/MusicRoom.svelte') },
  { id: 'picks', name: 'Picks', surround: 'picture', needs: 'offers.read', load: () => import('../picks/PicksRoom.svelte') },
  { id: 'string-out', name: 'String-out', surround: 'picture', needs: 'offers.read', load: () => import('../stringout/StringOutRoom.svelte') },
  { id: 'ledger', name: 'Ledger', surround: 'paper', needs: 'ledger.read', load: () => import('../ledger/LedgerRoom.svelte') },
  { id: 'turnover', name: 'Turnover', surround: 'paper', needs: 'turnover.make', load: () => import('../turnover/TurnoverRoom.svelte') },
  { id: 'crew', name: 'Crew', surround: 'paper', needs: 'crew.read', load: () => import('../access/CrewRoom.svelte') },
];

export function roomOf(id: RoomId): Room {
  const room = ROOMS.find((one) => one.id === id);
  if (!room) throw new Error(`No room ${id} in ROOMS.`);
  return room;
}
