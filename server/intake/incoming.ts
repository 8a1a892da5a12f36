// The store behind the tus server: a folder of files that grow, each with its journal entry. What @tus/file-store does
// not do is done here: the film's rows, the running xxh64, chunk checksums, early refusal, and a full disk told as such.
import { open, truncate, type FileHandle } from 'node:fs/promises';
import type { Readable } from 'node:stream';
import { FileStore } from '@tus/file-store';
import { Upload } from '@tus/server';
import { Refusal, refusalOf } from '../platform/errors.ts';
import { asking } from './asking.ts';
import { comparing } from './checksum.ts';
import { HEAD_BYTES, judgeHead } from './judge.ts';
import type { Kept } from './journal.ts';
import { isOfCard, refuse, type Intake } from './receive.ts';
import { beginUpload, setBytes, withdrawUpload } from './store.ts';
import { checkRoom } from './rules.ts';

/** The disk is asked to keep what came in this often, so that the wait at the end is short. */
const SYNC_EVERY_BYTES = 64 * 1024 * 1024;

export class IncomingStore extends FileStore {
  readonly #intake: Intake;

  constructor(intake: Intake) {
    const { storage, config } = intake.ground;
    super({
      directory: storage.path('incoming', ''),
      configstore: intake.journal,
      expirationPeriodInMilliseconds: config.uploadExpiresHours * 3_600_000,
    });
    this.#intake = intake;
  }

  override async create(file: Upload): Promise<Upload> {
    const { who, filmId, said } = asking();
    if (!said) throw new Error('An upload is made with what was said of its file.');
    try {
      await super.create(file);
      await beginUpload(this.#intake.ground.db, who, filmId, file.id, file.size ?? null, said);
    } catch (error) {
      await this.#intake.journal.clear(file.id);
      throw error;
    }
    asking().made = file.id;
    return file;
  }

  override async getUpload(id: string): Promise<Upload> {
    const kept = await this.#intake.journal.get(id);
    if (!kept) return this.#closed(id);
    if (kept.move) return new Upload({ ...kept, id, size: kept.move.bytes, offset: kept.move.bytes } as ConstructorParameters<typeof Upload>[0]);
    if (kept.unverifiedFrom !== undefined) await this.#dropFrom(id, kept, kept.unverifiedFrom);
    return super.getUpload(id);
  }

  /** An upload whose file has left: complete if it became a clip, and an empty one in any case. */
  async #closed(id: string): Promise<Upload> {
    const row = await this.#intake.ground.db.upload.findUnique({ where: { id } });
    const complete = row && (row.state === 'arrived' || (row.state === 'refused' && row.bytes === 0n));
    if (!complete) throw new Refusal(row ? 'upload-over' : 'not-found');
    return new Upload({ id, size: Number(row.bytes), offset: Number(row.bytes), metadata: metadataOf(row) });
  }

  override async declareUploadLength(id: string, bytes: number): Promise<void> {
    const { who, filmId } = asking();
    const { storage, config, db } = this.#intake.ground;
    checkRoom(bytes, await storage.freeSpace(), config.maxUploadBytes);
    await super.declareUploadLength(id, bytes);
    await setBytes(db, who, { id, filmId }, bytes);
  }

  override async remove(id: string): Promise<void> {
    const { who, filmId } = asking();
    this.#intake.hashes.forget(id);
    await withdrawUpload(this.#intake.ground.db, who, { id, filmId });
    await this.#intake.journal.clear(id);
  }

  override async write(readable: Readable, id: string, offset: number): Promise<number> {
    const { checksum, who, filmId } = asking();
    const kept = await this.#intake.journal.get(id);
    // Nothing can follow a file that was taken in; the length given with the upload has seen to that.
    if (!kept || kept.move) return offset;
    if (checksum) await this.#intake.journal.set(id, { ...kept, unverifiedFrom: offset } as Kept);
    const sum = checksum && comparing(checksum);
    const lost = this.#intake.locks.lostOf(id);
    const file = await open(this.#intake.ground.storage.path('incoming', id), 'r+');
    try {
      const end = await append(readable, file, offset, {
        early: !(await this.#isOfCard(id, kept)),
        lost,
        into: [await this.#intake.hashes.from(id, this.#intake.ground.storage.path('incoming', id), offset), ...(sum ? [(chunk: Uint8Array) => sum.update(chunk)] : [])],
      });
      if (sum) {
        if (!sum.matches()) throw new Refusal('chunk-damaged');
        await this.#intake.journal.set(id, kept);
      }
      return end;
    } catch (error) {
      // Another may be writing by now; what was not compared is dropped by whoever goes on.
      if (checksum && !lost.aborted) await this.#dropFrom(id, kept, offset);
      const refusal = refusalOf(error);
      if (['not-a-video', 'refused-format', 'disk-full'].includes(refusal.code)) await refuse(this.#intake, who, { id, filmId }, refusal);
      throw error;
    } finally {
      await file.close();
    }
  }

  async #isOfCard(id: string, kept: Kept): Promise<boolean> {
    const row = await this.#intake.ground.db.upload.findUnique({ where: { id }, select: { cardId: true, name: true } });
    return row !== null && isOfCard(row, kept);
  }

  async #dropFrom(id: string, kept: Kept, offset: number): Promise<void> {
    const { unverifiedFrom: _, ...verified } = kept;
    this.#intake.hashes.forget(id);
    await truncate(this.#intake.ground.storage.path('incoming', id), offset);
    await this.#intake.journal.set(id, verified as Kept);
  }
}

/**
 * Writes a stream into a file from `offset` on, feeding every chunk to `into` while it is being written, until `lost` fires.
 * @param how.early whether what is no video is refused by its first bytes.
 * @returns the offset after the last byte.
 * @throws the reason of `lost`; Refusal as soon as the first bytes show that the file is nothing to be taken in.
 */
export async function append(readable: Readable, file: FileHandle, offset: number, { early, lost, into }: { early: boolean; lost: AbortSignal; into: ((chunk: Uint8Array) => void)[] }): Promise<number> {
  let position = offset;
  let synced = offset;
  let syncing: Promise<void> = Promise.resolve();
  try {
    for await (const chunk of readable as AsyncIterable<Buffer>) {
      lost.throwIfAborted();
      const writing = writeWhole(file, chunk, position);
      // A write that fails is told where it is awaited, just below.
      writing.catch(() => {});
      for (const feed of into) feed(chunk);
      await writing;
      const before = position;
      position += chunk.byteLength;
      if (early && before < HEAD_BYTES && position >= HEAD_BYTES) judgeHead(await readHead(file));
      if (position - synced >= SYNC_EVERY_BYTES) {
        synced = position;
        await syncing;
        syncing = file.datasync();
        syncing.catch(() => {});
      }
    }
  } finally {
    await syncing;
  }
  lost.throwIfAborted();
  return position;
}

async function writeWhole(file: FileHandle, chunk: Buffer, position: number): Promise<void> {
  for (let done = 0; done < chunk.byteLength; ) {
    const { bytesWritten } = await file.write(chunk, done, chunk.byteLength - done, position + done);
    done += bytesWritten;
  }
}

async function readHead(file: FileHandle): Promise<Buffer> {
  const { buffer, bytesRead } = await file.read(Buffer.alloc(HEAD_BYTES), 0, HEAD_BYTES, 0);
  return buffer.subarray(0, bytesRead);
}

function metadataOf({ name, relativePath, camera, card, sourceXxh64 }: { name: string; relativePath: string; camera: string; card: string; sourceXxh64: string | null }): Record<string, string> {
  const said = { filename: name, relativePath, camera, card, xxh64: sourceXxh64 };
  return Object.fromEntries(Object.entries(said).filter((pair): pair is [string, string] => !!pair[1]));
}
