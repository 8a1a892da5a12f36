import { Worker } from 'node:worker_threads';
import type { Alignment } from './align.ts';

/**
 * Aligns two files of sound in a thread of its own.
 * @param files as `writeSound` makes them.
 * @throws the reason of the signal when that stopped it, and what the thread threw.
 */
export async function alignInWorker(files: { a: string; b: string }, signal?: AbortSignal): Promise<Alignment> {
  signal?.throwIfAborted();
  const worker = new Worker(new URL('worker.ts', import.meta.url), { workerData: files });
  const ended = Promise.withResolvers<Alignment>();
  const stop = (): void => ended.reject(signal?.reason);
  signal?.addEventListener('abort', stop, { once: true });
  worker.once('message', ended.resolve);
  worker.once('error', ended.reject);
  worker.once('exit', () => ended.reject(new Error('The thread of the alignment ended without an answer')));
  try {
    return await ended.promise;
  } finally {
    signal?.removeEventListener('abort', stop);
    await worker.terminate();
  }
}
