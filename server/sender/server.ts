// The server as the sender speaks to it: signs in, asks again while the link or the server is gone, signs in again when
// the session ends.
import { setTimeout as pause } from 'node:timers/promises';
import { Stop } from './options.ts';

export interface Credentials {
  email: string;
  password: string;
}

const FIRST_WAIT_MS = 500;
const LONGEST_WAIT_MS = 15_000;

/** A refusal by the server: its status, its code, and its words. */
export class ServerRefusal extends Error {
  readonly status: number;
  readonly code: string;
  constructor(status: number, body: string) {
    const problem = parsed(body);
    super(problem.detail ?? problem.message ?? `the server answered ${status}`);
    this.status = status;
    this.code = problem.code ?? 'unknown';
  }
}

function parsed(body: string): { code?: string; detail?: string; message?: string } {
  try {
    return JSON.parse(body) as { code?: string; detail?: string; message?: string };
  } catch {
    return {};
  }
}

/** Whether the same request may end otherwise later, without anybody doing anything about the file. */
export const isPassing = (status: number): boolean => status === 0 || status === 423 || status === 429 || status === 460 || status >= 500;

/** Waits that grow, until patience is over. */
export class Patience {
  readonly #forMs: number;
  readonly #say: (words: string) => void;
  #since: number | null = null;
  /** What was said last: another reason is said too. */
  #why: string | null = null;
  #wait = FIRST_WAIT_MS;

  constructor(forMs: number, say: (words: string) => void) {
    this.#forMs = forMs;
    this.#say = say;
  }

  /** @throws Stop 4 when it has lasted too long. */
  async wait(why: string): Promise<void> {
    if (this.#why !== why) this.#say(`${why}; trying again by itself`);
    this.#why = why;
    this.#since ??= Date.now();
    if (Date.now() - this.#since > this.#forMs) throw new Stop(4, `${why}, for ${Math.round(this.#forMs / 1000)} s. Start again when it is mended: what was sent stays there.`);
    await pause(this.#wait);
    this.#wait = Math.min(LONGEST_WAIT_MS, this.#wait * 2);
  }

  /** Something went well. */
  reset(): void {
    this.#since = null;
    this.#why = null;
    this.#wait = FIRST_WAIT_MS;
  }
}

export class Server {
  readonly origin: string;
  readonly patience: () => Patience;
  readonly #credentials: Credentials;
  #cookie = '';
  #signing: Promise<void> | null = null;

  constructor(origin: string, credentials: Credentials, patience: () => Patience) {
    this.origin = origin;
    this.#credentials = credentials;
    this.patience = patience;
  }

  /** The Cookie header of the session. */
  get cookie(): string {
    return this.#cookie;
  }

  /** Signs in; several who ask at once wait for one. @throws Stop 3, 4. */
  signIn(): Promise<void> {
    return (this.#signing ??= this.#signIn().finally(() => (this.#signing = null)));
  }

  async #signIn(): Promise<void> {
    const patience = this.patience();
    for (;;) {
      const answer = await this.#try('POST', '/api/auth/sign-in/email', this.#credentials);
      if (answer.ok) {
        this.#cookie = answer.cookies.map((cookie) => cookie.split(';', 1)[0]).join('; ');
        return;
      }
      if (!isPassing(answer.status)) throw new Stop(3, `Not signed in: ${new ServerRefusal(answer.status, answer.body).message}`);
      await patience.wait(answer.status === 0 ? 'the server cannot be reached' : `the server answers ${answer.status}`);
    }
  }

  /** Asks until there is an answer. @throws ServerRefusal; Stop 3, 4. */
  async ask<T>(method: 'GET' | 'POST', path: string, body?: unknown): Promise<T> {
    const patience = this.patience();
    let signedIn = false;
    for (;;) {
      const answer = await this.#try(method, path, body);
      if (answer.ok) return JSON.parse(answer.body) as T;
      if (answer.status === 401 && !signedIn) {
        await this.signIn();
        signedIn = true;
      } else if (isPassing(answer.status)) {
        await patience.wait(answer.status === 0 ? 'the server cannot be reached' : `the server answers ${answer.status}`);
      } else throw new ServerRefusal(answer.status, answer.body);
    }
  }

  /** Takes an upload back; that it is gone already, or somebody else's, is as good. */
  async withdraw(path: string): Promise<void> {
    await this.#try('DELETE', path);
  }

  async #try(method: string, path: string, body?: unknown): Promise<{ ok: boolean; status: number; body: string; cookies: string[] }> {
    try {
      const answer = await fetch(this.origin + path, {
        method,
        // Accounts are signed in by pages of the server's own origin only, and by who says to be one.
        headers: { accept: 'application/json', 'tus-resumable': '1.0.0', origin: this.origin, ...(this.#cookie ? { cookie: this.#cookie } : {}), ...(body === undefined ? {} : { 'content-type': 'application/json' }) },
        ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      });
      return { ok: answer.ok, status: answer.status, body: await answer.text(), cookies: answer.headers.getSetCookie() };
    } catch {
      return { ok: false, status: 0, body: '', cookies: [] };
    }
  }
}
