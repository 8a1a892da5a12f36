import { io, type Socket } from 'socket.io-client';
import type { CardProgress } from '#contract/cards';
import type { BrowserToServer, FilmEvent, Presence, Progress, ServerToBrowser } from '#contract/live';
import type { TrackProgress } from '#contract/music';
import type { StringOutProgress } from '#contract/stringout';
import { CLIENT, sayNotSignedIn } from '../api/client.ts';

export type Look = Omit<Parameters<BrowserToServer['look']>[0], 'film'>;

export interface Heard {
  /** Number of the newest event the page has. */
  seq(): number;
  event(event: FilmEvent): void;
  progress(progress: Progress): void;
  track(progress: TrackProgress): void;
  card(progress: CardProgress): void;
  stringOut(progress: StringOutProgress): void;
  presence(people: Presence['people']): void;
  seen(clipId: string, crew: [number, number][]): void;
  /** Everything up to now has arrived, and what follows will. */
  joined(): void;
  cut(): void;
  /** The state has to be loaded anew; `join` afterwards. */
  reload(): void;
}

const LOOK_EVERY_MS = 250;

/*
 * One film's socket. States: cut -> connected -> joined, and back to cut; every connect joins again from the newest
 * event the page has, so a cut costs nothing. socket.io reconnects by itself except after the server ended the
 * connection, which is what it does to a session that is over.
 */
export class FilmConnection {
  readonly #film: string;
  readonly #heard: Heard;
  readonly #socket: Socket<ServerToBrowser, BrowserToServer>;
  #look: Look | null = null;
  #lookTimer: number | null = null;

  constructor(film: string, heard: Heard) {
    this.#film = film;
    this.#heard = heard;
    this.#socket = io({ path: '/socket.io', transports: ['websocket', 'polling'] });
    const mine = (named: { film: string }) => named.film === film;
    this.#socket.on('connect', () => this.join());
    this.#socket.on('event', (event) => mine(event) && heard.event(event));
    this.#socket.on('progress', (progress) => mine(progress) && heard.progress(progress));
    this.#socket.on('track', (progress) => mine(progress) && heard.track(progress));
    this.#socket.on('card', (progress) => mine(progress) && heard.card(progress));
    this.#socket.on('stringOut', (progress) => mine(progress) && heard.stringOut(progress));
    this.#socket.on('presence', (presence) => mine(presence) && heard.presence(presence.people));
    this.#socket.on('seen', (seen) => mine(seen) && heard.seen(seen.clipId, seen.crew));
    this.#socket.on('reload', (named) => named === film && heard.reload());
    this.#socket.on('disconnect', (reason) => {
      heard.cut();
      if (reason === 'io server disconnect') this.#socket.connect();
    });
    this.#socket.on('connect_error', (error) => {
      heard.cut();
      if (error.message === 'not-signed-in') sayNotSignedIn();
    });
  }

  /** Follows the film from the newest event the page has; also after a `reload`. */
  join(): void {
    if (!this.#socket.connected) return;
    this.#socket.emit('join', { film: this.#film, after: this.#heard.seq(), client: CLIENT }, (answer) => {
      if (!answer.ok) return this.#heard.reload();
      this.#heard.joined();
      this.#tellLook();
    });
  }

  /** Tells the others what is looked at here; often, such as at every frame, is fine. */
  look(look: Look): void {
    this.#look = look;
    if (this.#lookTimer !== null) return;
    this.#lookTimer = window.setTimeout(() => {
      this.#lookTimer = null;
      this.#tellLook();
    }, LOOK_EVERY_MS);
  }

  close(): void {
    if (this.#lookTimer !== null) window.clearTimeout(this.#lookTimer);
    this.#socket.disconnect();
  }

  #tellLook(): void {
    if (this.#look && this.#socket.connected) this.#socket.emit('look', { film: this.#film, ...this.#look });
  }
}
