// The thread of one analysis: `in-worker.ts` starts it, and ends it to stop it.
import { parentPort, workerData } from 'node:worker_threads';
import { analyseSound } from './analyse.ts';
import type { Analysis } from './contract.ts';
import { waveFile } from './wave-file.ts';

/** What the thread says: how far it is, and at last what it found. Errors go by the thread's own `error` event. */
export type Said = { fraction: number } | { analysis: Analysis };

const say = (said: Said): void => parentPort!.postMessage(said);
const analysis = analyseSound(waveFile((workerData as { path: string }).path), { report: (fraction) => say({ fraction }) });
say({ analysis });
