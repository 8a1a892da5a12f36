import type { FilmState } from '../live/film-state.svelte.ts';
import { Watched } from './watched.ts';

const REPORT_EVERY_MS = 2000;
/** As many stretches as one report may hold. */
const AT_ONCE = 1000;

/*
 * Reports what was watched of a clip every two seconds, on leaving the clip, and when the page is closed or put away.
 * What could not be sent is kept and sent with the next report.
 */
export class SeenRecorder {
  readonly watched = new Watched();
  readonly #film: FilmState;
  readonly #clipId: string;
  readonly #timer: number;
  readonly #leave = () => void this.#report(true);

  constructor(film: FilmState, clipId: string) {
    this.#film = film;
    this.#clipId = clipId;
    this.#timer = window.setInterval(() => void this.#report(false), REPORT_EVERY_MS);
    addEventListener('pagehide', this.#leave);
  }

  close(): void {
    window.clearInterval(this.#timer);
    removeEventListener('pagehide', this.#leave);
    void this.#report(true);
  }

  async #report(leaving: boolean): Promise<void> {
    const ranges = this.watched.take();
    for (let n = 0; n < ranges.length; n += AT_ONCE) {
      const some = ranges.slice(n, n + AT_ONCE);
      await this.#film.reportSeen(this.#clipId, some, { leaving }).catch(() => this.watched.giveBack(some));
    }
  }
}
