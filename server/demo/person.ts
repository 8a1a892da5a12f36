import { openAsBlob } from 'node:fs';
import { basename } from 'node:path';

/** Somebody of the invented crew, working through the same API as everyone else. */
export interface Person {
  userId: string;
  send<T>(method: string, path: string, body?: unknown): Promise<T>;
  upload(path: string, file: string, fields: Record<string, string>): Promise<void>;
}

/** @throws Error with the problem document when the server refuses. */
export function personAt(origin: string, userId: string, cookie: string, signal: AbortSignal): Person {
  const ask = async (path: string, init: RequestInit): Promise<Response> => {
    const answer = await fetch(origin + path, { ...init, signal, headers: { ...(init.headers as Record<string, string>), cookie } });
    if (!answer.ok) throw new Error(`${init.method} ${path}: ${await answer.text()}`);
    return answer;
  };
  return {
    userId,
    send: async <T>(method: string, path: string, body: unknown = {}) => {
      const bare = method === 'GET' || method === 'DELETE';
      const answer = await ask(path, { method, ...(bare ? {} : { headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) }) });
      return (await answer.json()) as T;
    },
    async upload(path, file, fields) {
      const form = new FormData();
      for (const [name, value] of Object.entries(fields)) form.set(name, value);
      form.set('file', await openAsBlob(file), basename(file));
      await ask(path, { method: 'POST', body: form });
    },
  };
}
