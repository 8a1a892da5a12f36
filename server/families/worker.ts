// The thread of one alignment: `in-worker.ts` starts it, and ends it to stop it.
import { parentPort, workerData } from 'node:worker_threads';
import { align } from './align.ts';
import { openSound } from './sound-file.ts';

const { a, b } = workerData as { a: string; b: string };
const [one, other] = [openSound(a), openSound(b)];
parentPort!.postMessage(align(one, other));
one.close();
other.close();
