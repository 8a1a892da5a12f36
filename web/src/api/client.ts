import { ApiProblem, type FieldFault } from './problem.ts';

/** This tab's name, sent with every change so that its own events can be told from those of others. */
export const CLIENT = tabName();

/** `crypto.randomUUID` exists on secure origins only; a crew's server is often a plain address on its own network. */
function tabName(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

export interface AskOptions {
  signal?: AbortSignal;
  /** The request outlives the page; its body may be 64 KiB at most. */
  keepalive?: boolean;
  /** A name of the change: asked again by the same, the server does it once. For routes that say so. */
  change?: string;
  /** Hears the number of the event that a change became. */
  wrote?(seq: number): void;
}

export interface Api {
  get<T>(path: string, options?: AskOptions): Promise<T>;
  post<T>(path: string, body?: unknown, options?: AskOptions): Promise<T>;
  put<T>(path: string, body: unknown, options?: AskOptions): Promise<T>;
  patch<T>(path: string, body: unknown, options?: AskOptions): Promise<T>;
  del<T>(path: string, options?: AskOptions): Promise<T>;
}

/**
 * An API whose every path stands under `prefix`. The answer is the parsed JSON, undefined when there is none.
 * Every refusal, and a lost connection (code `no-connection`), is thrown as an `ApiProblem`.
 * @param wrote runs after each successful change
 */
export function apiUnder(prefix: string, wrote?: () => void): Api {
  async function change<T>(method: string, path: string, body: unknown, options?: AskOptions): Promise<T> {
    const answer = await ask<T>(method, prefix + path, body, options);
    wrote?.();
    return answer;
  }
  return {
    get: (path, options) => ask('GET', prefix + path, undefined, options),
    post: (path, body, options) => change('POST', path, body, options),
    put: (path, body, options) => change('PUT', path, body, options),
    patch: (path, body, options) => change('PATCH', path, body, options),
    del: (path, options) => change('DELETE', path, undefined, options),
  };
}

/** The whole API: paths begin with `/api/`. */
export const api = apiUnder('');

const signedOutListeners = new Set<() => void>();

/** Calls `listener` whenever the server says that nobody is signed in; the function answered stops it. */
export function whenSignedOut(listener: () => void): () => void {
  signedOutListeners.add(listener);
  return () => signedOutListeners.delete(listener);
}

/** Tells the page that its session has ended. */
export function sayNotSignedIn(): void {
  for (const listener of signedOutListeners) listener();
}

async function ask<T>(method: string, path: string, body: unknown, { signal, keepalive = false, change, wrote }: AskOptions = {}): Promise<T> {
  const headers: Record<string, string> = { accept: 'application/json', 'x-rushlight-client': CLIENT };
  if (body !== undefined) headers['content-type'] = 'application/json';
  if (change !== undefined) headers['x-rushlight-change'] = change;
  let response: Response;
  let text: string;
  try {
    response = await fetch(path, {
      method,
      headers,
      credentials: 'same-origin',
      keepalive,
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      ...(signal ? { signal } : {}),
    });
    text = await response.text();
  } catch (error) {
    if (signal?.aborted) throw error;
    throw new ApiProblem({ code: 'no-connection', status: 0, title: 'The server cannot be reached.', detail: 'The server cannot be reached. Nothing was changed as far as this page knows; try again.' });
  }
  const answer = parse(text);
  if (response.ok) {
    const event = response.headers.get('x-rushlight-event');
    if (event !== null) wrote?.(Number(event));
    return answer as T;
  }
  const problem = problemOf(response.status, answer);
  if (problem.code === 'not-signed-in') sayNotSignedIn();
  throw problem;
}

function parse(text: string): unknown {
  if (!text) return undefined;
  try {
    return JSON.parse(text);
  } catch {
    return undefined;
  }
}

/** Problem documents are ours; the routes under /api/auth answer `{ code, message }`. */
function problemOf(status: number, answer: unknown): ApiProblem {
  const { code, title, detail, message, fields, ...more } = (answer ?? {}) as {
    code?: string;
    title?: string;
    detail?: string;
    message?: string;
    fields?: FieldFault[];
  };
  const words = detail ?? message ?? title ?? `The server answered ${status} without saying why.`;
  return new ApiProblem({ code: code ?? 'server-error', status, title: title ?? words, detail: words, fields: fields ?? [], more });
}
