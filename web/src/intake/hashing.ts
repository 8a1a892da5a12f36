type Answer = { id: number; read?: number; xxh64?: string; failure?: string };

interface Asked {
  tell: (read: number) => void;
  done: (xxh64: string) => void;
  fail: (error: Error) => void;
}

let worker: Worker | null = null;
let last = 0;
const waiting = new Map<number, Asked>();

/**
 * The xxh64 of a file as it lies at the source, made aside so that the page stays quick. Rejects when it cannot be read.
 * @param tell hears now and then how many bytes were read
 */
export function hashOf(file: File, tell: (read: number) => void): Promise<string> {
  worker ??= start();
  const id = ++last;
  worker.postMessage({ id, file });
  return new Promise((done, fail) => waiting.set(id, { tell, done, fail }));
}

function start(): Worker {
  const made = new Worker(new URL('./hash.worker.ts', import.meta.url), { type: 'module' });
  made.onmessage = ({ data: { id, read, xxh64, failure } }: MessageEvent<Answer>) => {
    const asked = waiting.get(id);
    if (read !== undefined) return asked?.tell(read);
    waiting.delete(id);
    if (xxh64 !== undefined) asked?.done(xxh64);
    else asked?.fail(new Error(failure));
  };
  // A worker that cannot run answers nobody: everyone who waits is told, and the next file tries a new one.
  made.onerror = () => {
    worker = null;
    for (const { fail } of waiting.values()) fail(new Error('Checksums cannot be made in this browser.'));
    waiting.clear();
  };
  return made;
}
