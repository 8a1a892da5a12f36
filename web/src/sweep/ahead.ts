import type { Clip } from '#contract/footage';
import { mediaUrl } from '../api/media.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { FramePlayer } from '../player/player.svelte.ts';

/**
 * Clips that may come up next, loading out of sight, so that the next one is there when it is asked for. They make no
 * sound, nothing of them counts as seen, and those that will not come up are let go.
 */
export class Ahead {
  readonly #film: FilmState;
  readonly #players = new Map<string, FramePlayer>();

  constructor(film: FilmState) {
    this.#film = film;
  }

  /** Loads these, and lets go of what else was loading. */
  prepare(clips: readonly Clip[]): void {
    const wanted = new Map(clips.flatMap((clip) => (clip.state === 'ready' && clip.proxyVersion ? [[keyOf(clip.id, clip.proxyVersion), clip] as const] : [])));
    for (const [key, player] of this.#players) if (!wanted.has(key)) this.#drop(key, player);
    for (const [key, clip] of wanted) {
      if (this.#players.has(key) || !clip.rate || clip.frames === null) continue;
      const url = (file: string) => mediaUrl(this.#film.id, clip.id, clip.proxyVersion!, file);
      const player = new FramePlayer({ master: url('master.m3u8'), rate: clip.rate, frames: clip.frames });
      player.load();
      this.#players.set(key, player);
      // Kept by the browser; what fails here is asked for again when it is needed.
      for (const file of ['traces.json', 'peaks.json']) void fetch(url(file)).then((answer) => answer.blob(), () => {});
    }
  }

  /** The player of a clip that came up, to be destroyed by who takes it; a new one where it was not loading. */
  take(clip: Clip, proxy: string, rate: FramePlayer['rate'], frames: number): FramePlayer {
    const key = keyOf(clip.id, proxy);
    const player = this.#players.get(key);
    this.#players.delete(key);
    return player ?? new FramePlayer({ master: mediaUrl(this.#film.id, clip.id, proxy, 'master.m3u8'), rate, frames });
  }

  close(): void {
    for (const [key, player] of this.#players) this.#drop(key, player);
  }

  #drop(key: string, player: FramePlayer): void {
    player.destroy();
    this.#players.delete(key);
  }
}

const keyOf = (clipId: string, proxy: string): string => `${clipId}/${proxy}`;
