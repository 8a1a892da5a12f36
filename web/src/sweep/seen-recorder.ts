import type { FilmState } from '../live/film-state.svelte.ts';
import { Watched } from './watched.ts';

const REPORT_EVERY_MS = 2000;

/*
 * Reports what was watched of a clip every two seconds, on leaving the clip, and when the page is closed or put away; like
 * every stroke it goes out when the server can be reached.
 */
export class SeenRecorder {
  readonly watched = new Watched();
  readonly #film: FilmState;
  readonly #clipId: string;
  readonly #timer: number;
  readonly #leave = () => this.#report();

  constructor(film: FilmState, clipId: string) {
    this.#film = film;
    this.#clipId = clipId;
    this.#timer = window.setInterval(() => this.#report(), REPORT_EVERY_MS);
    addEventListener('pagehide', this.#leave);
  }

  close(): void {
    window.clearInterval(this.#timer);
    removeEventListener('pagehide', this.#leave);
    this.#report();
  }

  #report(): void {
    const ranges = this.watched.take();
    if (ranges.length) this.#film.saw(this.#clipId, ranges);
  }
}
