// A piece of music on its way in: one request, streamed to the disk and summed while it arrives.
//   arriving-<id>/file grows -> checked -> arriving-<id>/move.json names the place -> moved there -> row, job, event -> answered
// The folder is claimed meanwhile. Whatever a crash leaves of it, nobody was told that the file arrived: the worker's
// start takes it away, with the file that was moved and has no row.
import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, readFile, stat, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createXXHash64 } from 'hash-wasm';
import { Prisma, type Track as TrackRow } from '#prisma';
import { filmFolder, safeParts } from '../intake/index.ts';
import { claimKey } from '../platform/claimed-work.ts';
import { takeClaim } from '../platform/claim.ts';
import { Refusal } from '../platform/errors.ts';
import type { Ground } from '../platform/http.ts';
import { enqueue } from '../platform/jobs.ts';
import type { Storage } from '../platform/storage.ts';
import { sync } from '../platform/storage.ts';
import { write, type Who } from '../platform/write.ts';
import type { TrackWords } from './contract.ts';
import { toTrack } from './rows.ts';
import { titleOf } from './rules.ts';
import { checkMusic, HEAD_BYTES, sniffMusic } from './safety.ts';

export const QUEUE = 'music';
/** Begins the names of folders in the music area that hold a file on its way in. */
export const ARRIVING = 'arriving-';
const FILE = 'file';
const MOVE = 'move.json';

/** A file as it is sent. */
export interface Sent {
  filename: string;
  bytes: Readable & { truncated?: boolean };
  words: TrackWords;
}

/**
 * Takes in a file as a track of the film.
 * @throws Refusal `empty-file`, `not-music`, `refused-format`, `too-large`, `disk-full`, `wrong-checksum`, `same-file`.
 */
export async function receiveTrack(ground: Ground, who: Who & { userId: string }, filmId: string, { filename, bytes, words }: Sent): Promise<TrackRow> {
  const { storage, tools, databaseUrl } = ground;
  const folder = ARRIVING + randomUUID();
  const claim = await takeClaim(databaseUrl, claimKey(QUEUE, folder), async () => false);
  if (!claim) throw new Error('A name made just now is held by somebody.');
  const file = storage.path('music', `${folder}/${FILE}`);
  try {
    await mkdir(storage.path('music', folder), { recursive: true });
    const xxh64 = await keep(bytes, file);
    if (bytes.truncated) throw new Refusal('too-large');
    const { size } = await stat(file);
    if (size === 0) throw new Refusal('empty-file');
    if (words.xxh64 && words.xxh64.toLowerCase() !== xxh64) throw new Refusal('wrong-checksum', `At the source the file had xxh64 ${words.xxh64}, what arrived has ${xxh64}. Send the file again.`);
    await checkMusic(file, tools, claim.lost);
    await refuseTwin(ground, filmId, xxh64, size);
    return await place(ground, who, filmId, { folder, file, name: safeParts(filename).at(-1) ?? 'unnamed', xxh64, size, words });
  } finally {
    await storage.remove('music', folder);
    await claim.release();
  }
}

/** Where the file of an arriving folder was about to be moved, or null. */
export async function readMove(storage: Storage, folder: string): Promise<string | null> {
  try {
    return (JSON.parse(await readFile(storage.path('music', `${folder}/${MOVE}`), 'utf8')) as { path: string }).path;
  } catch (error) {
    // A move that was not written whole was not begun.
    if ((error as NodeJS.ErrnoException).code === 'ENOENT' || error instanceof SyntaxError) return null;
    throw error;
  }
}

/** Writes the file and sums it; refused as soon as its first bytes are no music. @returns xxh64, 16 hex digits. */
async function keep(bytes: Readable, file: string): Promise<string> {
  const hash = (await createXXHash64()).init();
  await pipeline(
    bytes,
    async function* (chunks: AsyncIterable<Buffer>) {
      let head: Buffer | null = Buffer.alloc(0);
      for await (const chunk of chunks) {
        if (head) {
          head = Buffer.concat([head, chunk]);
          if (head.length >= HEAD_BYTES) {
            sniffMusic(head);
            head = null;
          }
        }
        hash.update(chunk);
        yield chunk;
      }
      if (head?.length) sniffMusic(head);
    },
    createWriteStream(file, { flags: 'wx' }),
  );
  return hash.digest('hex');
}

async function refuseTwin({ db }: Ground, filmId: string, xxh64: string, bytes: number): Promise<void> {
  const twin = await db.track.findFirst({ where: { filmId, xxh64, bytes, removedAt: null } });
  if (twin) throw new Refusal('same-file', `The film has this very file as “${twin.title}”.`, { more: { trackId: twin.id } });
}

interface Checked {
  folder: string;
  file: string;
  name: string;
  xxh64: string;
  size: number;
  words: TrackWords;
}

async function place(ground: Ground, who: Who & { userId: string }, filmId: string, { folder, file, name, xxh64, size, words }: Checked): Promise<TrackRow> {
  const { db, jobs, storage } = ground;
  const id = randomUUID();
  const film = await db.film.findUniqueOrThrow({ where: { id: filmId } });
  const dot = name.lastIndexOf('.');
  // The piece of its id makes the place its own, whatever else is called so.
  const own = dot > 0 ? `${name.slice(0, dot)}~${id.slice(-8)}${name.slice(dot)}` : `${name}~${id.slice(-8)}`;
  const path = join(filmFolder(film), 'music', own);
  const move = storage.path('music', `${folder}/${MOVE}`);
  await writeFile(move, JSON.stringify({ path }));
  await sync(move);
  await storage.moveIn(file, 'originals', path);
  try {
    return await write(db, who, filmId, async (tx) => {
      const { title, maker = '', licence = '', rights = 'missing' } = words;
      const track = await tx.track.create({
        data: { id, filmId, name, title: title?.trim() || titleOf(name), maker: maker.trim(), licence: licence.trim(), rights, originalPath: path, bytes: size, xxh64, sentById: who.userId },
      });
      await enqueue(jobs, tx, QUEUE, { trackId: id });
      return { kind: 'track.received', subject: id, rows: { tracks: [toTrack(track)] }, result: track };
    });
  } catch (error) {
    await storage.remove('originals', path);
    // The same file came in by another request meanwhile: the database lets only one of them be a track.
    if (error instanceof Prisma.PrismaClientKnownRequestError && error.code === 'P2002') await refuseTwin(ground, filmId, xxh64, size);
    throw error;
  }
}
