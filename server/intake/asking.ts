import { AsyncLocalStorage } from 'node:async_hooks';
import type { Who } from '../platform/write.ts';
import type { Checksum } from './checksum.ts';
import type { Said } from './rules.ts';

/** The request an upload is worked on for: the store behind the tus server is handed nothing else of it. */
export interface Asking {
  filmId: string;
  who: Who & { userId: string };
  /** May work on uploads that others began. */
  anyones: boolean;
  /** Checksum of the chunk this request carries. */
  checksum: Checksum | null;
  /** What was said of the file when this request makes an upload. */
  said: Said | null;
  /** Id of the upload this request made. */
  made: string | null;
}

const storage = new AsyncLocalStorage<Asking>();

export const askingFor = <T>(asking: Asking, work: () => Promise<T>): Promise<T> => storage.run(asking, work);

/** The request being answered. */
export function asking(): Asking {
  const current = storage.getStore();
  if (!current) throw new Error('Uploads are worked on inside a request only.');
  return current;
}
