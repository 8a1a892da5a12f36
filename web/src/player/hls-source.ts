import Hls, { Events, type ErrorData } from 'hls.js';
import { HlsErrors } from './hls-errors.ts';

export interface SourceHeard {
  /** Seconds of picture that exist so far, and whether more will come. */
  length(seconds: number, growing: boolean): void;
  /** Media arrived in the buffer. */
  buffered(): void;
  /** Playing cannot go on, in words; null when it can again. */
  failed(words: string | null): void;
}

const AGAIN_MS = 1000;

/*
 * A proxy fed to a video element. States: loading -> loaded, either of them -> failed, and failed -> loading when the
 * connection is back. `hls-errors.ts` decides what is done about errors.
 */
export class HlsSource {
  readonly #hls: Hls;
  readonly #master: string;
  readonly #heard: SourceHeard;
  readonly #errors = new HlsErrors();
  #again: number | null = null;

  /** @param startSeconds where loading begins */
  constructor(video: HTMLVideoElement, master: string, startSeconds: number, heard: SourceHeard) {
    this.#master = master;
    this.#heard = heard;
    this.#hls = new Hls({ startPosition: startSeconds, maxBufferLength: 20, backBufferLength: 20, maxBufferHole: 0.1, nudgeOffset: 0.001 });
    if (!Hls.isSupported()) {
      heard.failed('This browser lacks Media Source Extensions, which playing a proxy needs.');
      return;
    }
    this.#hls.on(Events.LEVEL_UPDATED, (_, { details }) => heard.length(details.totalduration, details.live));
    this.#hls.on(Events.BUFFER_APPENDED, () => heard.buffered());
    this.#hls.on(Events.ERROR, (_, error) => error.fatal && this.#recover(error));
    this.#hls.loadSource(master);
    this.#hls.attachMedia(video);
    window.addEventListener('online', this.#online);
  }

  destroy(): void {
    window.removeEventListener('online', this.#online);
    if (this.#again !== null) window.clearTimeout(this.#again);
    this.#hls.destroy();
  }

  #recover(error: ErrorData): void {
    const remedy = this.#errors.remedyFor(error, performance.now());
    if (remedy.kind === 'tell') return this.#heard.failed(remedy.words);
    if (remedy.kind === 'repair') return this.#hls.recoverMediaError();
    this.#again = window.setTimeout(() => this.#load(remedy.kind === 'reload'), AGAIN_MS);
  }

  #load(all: boolean): void {
    if (all) this.#hls.loadSource(this.#master);
    else this.#hls.startLoad();
  }

  readonly #online = (): void => {
    this.#errors.clear();
    this.#heard.failed(null);
    this.#load(this.#hls.levels.length === 0);
  };
}
