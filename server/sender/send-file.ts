// One file on its way: summed where it lies, then sent by the resumable upload (tus 1.0.0) with that checksum, so that
// the server refuses anything else. States: unsummed -> summed -> (here already | sending -> arrived | refused).
import { createReadStream } from 'node:fs';
import { createXXHash64 } from 'hash-wasm';
import { Upload, type DetailedError } from 'tus-js-client';
import type { Memory } from './memory.ts';
import { isPassing, ServerRefusal, type Server } from './server.ts';
import { isSame, look, type Found } from './walk.ts';

const CHUNK_BYTES = 16 * 1024 * 1024;
const READ_BYTES = 1024 * 1024;
/** A file that is damaged on the way as often as this is not damaged by chance. */
const TRIES = 3;

export type Outcome = { state: 'arrived' | 'refused' | 'unreadable' | 'changing'; words: string; xxh64: string | null };

export interface Way {
  server: Server;
  memory: Memory;
  film: string;
  card: string;
  camera: string;
  /** Whether the film has these bytes, so that nothing need be sent. */
  isHere(found: Found, xxh64: string): boolean;
  /** Address of an upload of this file that an earlier run has begun, once; or null. */
  begun(found: Found): string | null;
  /** Hears how many bytes of a file are summed and sent. */
  tell(found: Found, done: { summed?: number; sent?: number }): void;
}

/** Sends one file. @throws Stop when there is no server, or one is not let in. */
export async function sendFile(way: Way, found: Found): Promise<Outcome> {
  for (let tries = 1; ; tries++) {
    const xxh64 = way.memory.sumOf(found) ?? (await sumOf(way, found));
    if (xxh64 === null) return { state: 'unreadable', words: 'it cannot be read', xxh64 };
    if (!isSame(found, await look(found))) return { state: 'changing', words: 'it changed meanwhile', xxh64: null };
    if (way.isHere(found, xxh64)) {
      way.tell(found, { sent: found.size });
      return { state: 'arrived', words: 'is there already', xxh64 };
    }
    try {
      await upload(way, found, xxh64);
      way.tell(found, { sent: found.size });
      const after = await look(found);
      return isSame(found, after) ? { state: 'arrived', words: 'arrived', xxh64 } : { state: 'changing', words: 'it changed meanwhile', xxh64: null };
    } catch (error) {
      if (!(error instanceof ServerRefusal)) throw error;
      // What arrived is not what was read: read it anew, since either reading may have been the wrong one.
      if ((error.code === 'wrong-checksum' || error.code === 'wrong-length') && tries < TRIES) {
        await way.memory.keep(found, { upload: null });
        const again = await sumOf(way, found);
        if (again !== null) continue;
      }
      return { state: 'refused', words: error.message, xxh64 };
    }
  }
}

/** @returns null when the file cannot be read. */
async function sumOf(way: Way, found: Found): Promise<string | null> {
  const hash = await createXXHash64();
  let summed = 0;
  try {
    for await (const chunk of createReadStream(found.file, { highWaterMark: READ_BYTES })) {
      hash.update(chunk as Buffer);
      way.tell(found, { summed: (summed += (chunk as Buffer).byteLength) });
    }
  } catch {
    return null;
  }
  const xxh64 = hash.digest('hex');
  await way.memory.keep(found, { xxh64 });
  return xxh64;
}

/** Sends until it has arrived: after a lost link, a session that ended, or a full disk it goes on. @throws ServerRefusal; Stop. */
async function upload(way: Way, found: Found, xxh64: string): Promise<void> {
  const patience = way.server.patience();
  for (;;) {
    const ended = await once(way, found, xxh64, () => patience.reset());
    if (ended === null) return;
    const { status, body } = ended;
    const { code } = new ServerRefusal(status, body);
    if (status === 401) await way.server.signIn();
    else if (status === 507) {
      // The server took its half away to make room: the file begins anew when there is some.
      await way.memory.keep(found, { upload: null });
      await patience.wait('the server has no room');
    } else if (code === 'wrong-offset' || isPassing(status)) await patience.wait(status === 0 ? 'the link is lost' : `the server answers ${status}`);
    else {
      const begun = way.memory.uploadOf(found);
      await way.memory.keep(found, { upload: null });
      // An upload that is over or unknown is no word on the file, which is sent anew.
      if (begun === null || (status !== 404 && status !== 410)) throw new ServerRefusal(status, body);
    }
  }
}

/** One try. @returns null when it arrived, otherwise how it ended. */
async function once(way: Way, found: Found, xxh64: string, moved: () => void): Promise<{ status: number; body: string } | null> {
  const known = way.memory.uploadOf(found) ?? way.begun(found);
  if (known !== null) await way.memory.keep(found, { upload: known });
  const source = createReadStream(found.file);
  const ended = new Promise<{ status: number; body: string } | null>((done, fail) => {
    const sending = new Upload(source as unknown as Blob, {
      endpoint: `${way.server.origin}/api/films/${way.film}/uploads`,
      ...(known ? { uploadUrl: new URL(known, way.server.origin).href } : {}),
      chunkSize: CHUNK_BYTES,
      uploadSize: found.size,
      retryDelays: null,
      storeFingerprintForResuming: false,
      metadata: { filename: found.path.split('/').at(-1)!, relativePath: found.path, camera: way.camera, card: way.card, xxh64 },
      onBeforeRequest: (request) => request.setHeader('Cookie', way.server.cookie),
      onUploadUrlAvailable: () => {
        if (sending.url && sending.url !== known) way.memory.keep(found, { upload: new URL(sending.url).pathname }).catch(fail);
      },
      onProgress: (sent) => way.tell(found, { sent }),
      onChunkComplete: moved,
      onSuccess: ({ lastResponse }) => {
        // An empty file is complete when it is begun; what the server says of it stands in the answer.
        const refusal = found.size === 0 ? lastResponse.getBody() : '';
        done(refusal ? { status: JSON.parse(refusal).status as number, body: refusal } : null);
      },
      onError: (error) => {
        const answer = (error as DetailedError).originalResponse;
        done({ status: answer?.getStatus() ?? 0, body: answer?.getBody() ?? '' });
      },
    });
    sending.start();
  });
  // A try that failed has not read its file to the end.
  return ended.finally(() => source.destroy());
}
