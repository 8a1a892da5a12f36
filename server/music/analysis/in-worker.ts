import { Worker } from 'node:worker_threads';
import type { Analysis, Report } from './contract.ts';
import type { Said } from './worker.ts';

/**
 * Analyses sound in a thread of its own.
 * @param path a WAV file of 32-bit float samples, as `decodeTrack` makes it.
 * @param how.report told the share done, never less than before; @param how.signal stops it.
 * @throws RangeError when the file is no such WAV; the reason of the signal when that stopped it.
 */
export async function analyseInWorker(path: string, { report, signal }: { report?: Report; signal?: AbortSignal } = {}): Promise<Analysis> {
  signal?.throwIfAborted();
  const worker = new Worker(new URL('worker.ts', import.meta.url), { workerData: { path } });
  const ended = Promise.withResolvers<Analysis>();
  const stop = (): void => ended.reject(signal?.reason);
  signal?.addEventListener('abort', stop, { once: true });
  worker.on('message', (said: Said) => ('analysis' in said ? ended.resolve(said.analysis) : report?.(said.fraction)));
  worker.once('error', ended.reject);
  worker.once('exit', () => ended.reject(new Error('The thread of the analysis ended without an answer')));
  try {
    return await ended.promise;
  } finally {
    signal?.removeEventListener('abort', stop);
    await worker.terminate();
  }
}
