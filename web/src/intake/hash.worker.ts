import { createXXHash64 } from 'hash-wasm';

const TELL_EVERY_BYTES = 32 * 1024 * 1024;

/** Makes the xxh64 of a file, piece by piece; tells how far it is, and answers with it in hex. */
self.onmessage = async ({ data: { id, file } }: MessageEvent<{ id: number; file: File }>) => {
  try {
    const hasher = await createXXHash64();
    const reader = file.stream().getReader();
    let read = 0;
    let told = 0;
    for (let part = await reader.read(); !part.done; part = await reader.read()) {
      hasher.update(part.value);
      read += part.value.byteLength;
      if (read - told >= TELL_EVERY_BYTES) self.postMessage({ id, read: (told = read) });
    }
    self.postMessage({ id, xxh64: hasher.digest('hex') });
  } catch (error) {
    self.postMessage({ id, failure: (error as Error).message });
  }
};
