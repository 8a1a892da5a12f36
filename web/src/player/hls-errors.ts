import { ErrorDetails, ErrorTypes, type ErrorData } from 'hls.js';

/** What to do about a fatal error: load on, load all again, repair the decoder, or tell the person. */
export type Remedy = { kind: 'load' | 'reload' | 'repair' } | { kind: 'tell'; words: string };

/** More than this many remedies within `WINDOW_MS` and it is no passing trouble. */
const AT_MOST = 3;
const WINDOW_MS = 60_000;

const REFUSED: Record<number, string> = {
  401: 'You are signed out, so the server does not give the picture. Sign in again.',
  403: 'Your role in this film does not let you watch this part of the clip.',
  404: 'The server no longer has this proxy. Load the page again.',
};

const FIRST_LISTS: readonly string[] = [ErrorDetails.MANIFEST_LOAD_ERROR, ErrorDetails.MANIFEST_LOAD_TIMEOUT, ErrorDetails.MANIFEST_PARSING_ERROR];

/**
 * Decides about fatal errors of hls.js; others it mends by itself. A long day at one clip may see many lost connections,
 * so only those close together count.
 */
export class HlsErrors {
  #recent: number[] = [];

  /** @param now milliseconds, of any clock that goes forward */
  remedyFor(error: Pick<ErrorData, 'type' | 'details' | 'response'>, now: number): Remedy {
    const refused = REFUSED[error.response?.code ?? 0];
    if (refused) return { kind: 'tell', words: refused };
    this.#recent = [...this.#recent.filter((at) => now - at < WINDOW_MS), now];
    const passing = this.#recent.length <= AT_MOST;
    if (error.type === ErrorTypes.NETWORK_ERROR) {
      if (!passing) return { kind: 'tell', words: 'The picture cannot be loaded from the server. It goes on when the connection is back.' };
      // Loading on would ask for segments, and there is no list of them yet.
      return { kind: FIRST_LISTS.includes(error.details) ? 'reload' : 'load' };
    }
    if (error.type === ErrorTypes.MEDIA_ERROR && passing) return { kind: 'repair' };
    return { kind: 'tell', words: 'This browser cannot play the proxy.' };
  }

  /** Forgets what was, as after the connection came back. */
  clear(): void {
    this.#recent = [];
  }
}
