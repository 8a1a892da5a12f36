import type { Card, CardProgress } from '../cards/contract.ts';
import type { Family } from '../families/contract.ts';
import type { Clip, Seen } from '../footage/contract.ts';
import type { Film, Member, Mine } from '../films/contract.ts';
import type { Item } from '../outline/contract.ts';
import type { Mark, Tie, Track, TrackProgress } from '../music/contract.ts';
import type { Note } from '../notes/contract.ts';
import type { Offer } from '../offers/contract.ts';
import type { StringOutProgress } from '../stringout/contract.ts';
import type { Select } from '../selects/contract.ts';
import type { Upload } from '../intake/contract.ts';

/** The tables a browser mirrors. Every row has an `id`; a row with `removedAt` is taken out of the mirror. */
export interface Tables {
  film: Film & { removedAt?: null };
  members: Member;
  items: Item;
  clips: Clip;
  uploads: Upload;
  cards: Card;
  selects: Select;
  offers: Offer;
  notes: Note;
  tracks: Track;
  marks: Mark;
  ties: Tie;
  families: Family;
}
export type TableName = keyof Tables;
export type Rows = { [T in TableName]?: Tables[T][] };

/** One change, whole: `seq` rises by exactly one per film, so a hole is a lost message and nothing else. */
export interface FilmEvent {
  film: string;
  seq: number;
  actorId: string | null;
  /** The browser tab that asked for it, as it named itself in X-Rushlight-Client. */
  client: string | null;
  kind: string;
  subject: string;
  rows: Rows;
  at: string;
}

/** GET /api/films/:film/state/clips: some clips with all that is on them, as of `seq`. */
export interface ClipsWhole {
  seq: number;
  rows: { clips: Clip[]; selects: Select[]; notes: Note[] };
  seen: Seen[];
}

/** GET /api/films/:film/state: what every page needs, as of `seq`; of the clips those on offer, as `ClipsWhole` has them. */
export interface Snapshot {
  seq: number;
  mine: Mine;
  rows: { [T in TableName]: Tables[T][] };
  seen: Seen[];
  progress: Progress[];
}

/** How far a clip's job is. Not kept: the next one says it better. */
export interface Progress {
  film: string;
  clipId: string;
  stage: 'probe' | 'proxy' | 'check' | 'store';
  fraction: number;
  etaSeconds: number | null;
  /** Set as soon as the unfinished proxy can be played. */
  proxyVersion: string | null;
  framesReady: number;
}

/** Who is here, and what they look at. */
export interface Presence {
  film: string;
  people: { userId: string; name: string; client: string; room: string; subject: string | null; frame: number | null }[];
}

export interface ServerToBrowser {
  event: (event: FilmEvent) => void;
  progress: (progress: Progress) => void;
  track: (progress: TrackProgress) => void;
  card: (progress: CardProgress) => void;
  stringOut: (progress: StringOutProgress) => void;
  presence: (presence: Presence) => void;
  seen: (seen: { film: string; clipId: string; userId: string; crew: [number, number][] }) => void;
  /** The membership changed or ended: load the state again. */
  reload: (film: string) => void;
}

export type JoinAnswer = { ok: true; seq: number } | { ok: false; code: 'not-allowed' | 'reload' };

export interface BrowserToServer {
  /** Follow a film from `after`: what came since is sent first, in order. */
  join: (ask: { film: string; after: number; client: string }, answer: (answer: JoinAnswer) => void) => void;
  leave: (film: string) => void;
  look: (at: { film: string; room: string; subject: string | null; frame: number | null }) => void;
}
