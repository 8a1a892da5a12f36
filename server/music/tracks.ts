import { extname } from 'node:path';
import multipart from '@fastify/multipart';
import { Type } from 'typebox';
import Value from 'typebox/value';
import { Prisma, type Track as TrackRow } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import { checkRoom, drain } from '../intake/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { enqueue } from '../platform/jobs.ts';
import { serve } from '../platform/serve.ts';
import { write } from '../platform/write.ts';
import { LockChange, Track, TrackChange, TrackWords, type TrackFailure } from './contract.ts';
import { QUEUE, receiveTrack } from './receive.ts';
import { toTrack } from './rows.ts';
import { checkRetry } from './rules.ts';
import { holdChoice, liveTrack, lockTrack, marksOf } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneTrack = Type.Object({ film: Type.String(), track: Type.String() });

/** Every file that a track is heard and seen by. */
const FILE = /^(?:play\.m4a|wave-[0-5]\.bin)$/;
const TYPES: Record<string, string> = { '.m4a': 'audio/mp4', '.bin': 'application/octet-stream' };

function changed(kind: string, ...rows: TrackRow[]) {
  const tracks = rows.map(toTrack);
  return { kind, subject: tracks[0]!.id, rows: { tracks }, result: tracks[0]! };
}

/** Sending a track. To be registered in a scope of its own. */
export async function sendRoute(app: App): Promise<void> {
  const { config, storage, ground } = app;
  await app.register(multipart, { throwFileSizeLimit: false, limits: { fileSize: config.maxUploadBytes, files: 1, parts: 16, fieldSize: 4000 } });
  app.addHook('onError', (request, reply) => drain(request, reply));
  app.post(
    '/api/films/:film/tracks/files',
    {
      config: { permission: 'music.send' },
      schema: {
        summary: 'Send a piece of music',
        description: 'multipart/form-data: the fields title, maker, licence, rights and xxh64 (made at the source), all optional, stand before the one file.',
        consumes: ['multipart/form-data'],
        params: InFilm,
        response: { 201: Track },
      },
    },
    async (request, reply) => {
      const { filmId, userId } = memberOf(request);
      if (!request.isMultipart()) throw new Refusal('bad-input', 'Send the file as multipart/form-data.', { fields: [{ field: 'Content-Type', why: 'is not multipart/form-data' }] });
      checkRoom(Number(request.headers['content-length'] ?? 0), await storage.freeSpace(), Number.MAX_SAFE_INTEGER);
      const given: Record<string, string> = {};
      for await (const part of request.parts()) {
        if (part.type === 'field') {
          given[part.fieldname] = String(part.value);
          continue;
        }
        const track = await receiveTrack(ground, { ...whoOf(request), userId }, filmId, { filename: part.filename, bytes: part.file, words: readWords(given) });
        return reply.status(201).send(toTrack(track));
      }
      throw new Refusal('bad-input', 'The request holds no file.', { fields: [{ field: 'file', why: 'is missing' }] });
    },
  );
}

/** @throws Refusal `bad-input` naming the fields that cannot be used. */
function readWords(given: Record<string, string>): TrackWords {
  const said = Object.fromEntries(Object.entries(given).filter(([, value]) => value.trim() !== ''));
  if (Value.Check(TrackWords, said)) return said;
  const fields = Value.Errors(TrackWords, said).map(({ instancePath, message }) => ({ field: instancePath.slice(1) || 'fields', why: message }));
  throw new Refusal('bad-input', fields.map(({ field, why }) => `${field} ${why}`).join('; '), { fields });
}

/** Tracks: their words and rights, which one is locked, and their media. */
export function trackRoutes(app: App): void {
  const { db, storage, jobs } = app;

  app.patch(
    '/api/films/:film/tracks/:track',
    { config: { permission: 'music.edit' }, schema: { summary: 'Set title, maker, licence note and rights', params: OneTrack, body: TrackChange, response: { 200: Track } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { title, maker, licence, rights } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const { id } = await liveTrack(tx, filmId, request.params.track);
        const data: Prisma.TrackUpdateInput = {
          ...(title === undefined ? {} : { title: title.trim() }),
          ...(maker === undefined ? {} : { maker: maker.trim() }),
          ...(licence === undefined ? {} : { licence: licence.trim() }),
          ...(rights === undefined ? {} : { rights }),
        };
        return changed('track.changed', await tx.track.update({ where: { id }, data }));
      });
    },
  );

  app.delete(
    '/api/films/:film/tracks/:track',
    { config: { permission: 'music.edit' }, schema: { summary: 'Take a track out of the film; its file and marks stay, and it can be restored', params: OneTrack, response: { 200: Track } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { id, locked } = await liveTrack(tx, filmId, request.params.track);
        if (locked) throw new Refusal('track-locked');
        return changed('track.removed', await tx.track.update({ where: { id }, data: { removedAt: new Date() } }));
      });
    },
  );

  app.post(
    '/api/films/:film/tracks/:track/restore',
    { config: { permission: 'music.edit' }, schema: { summary: 'Bring a removed track back', params: OneTrack, response: { 200: Track } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const track = await lockTrack(tx, filmId, request.params.track);
        const again = await tx.track.findFirst({ where: { filmId, xxh64: track.xxh64, bytes: track.bytes, removedAt: null, id: { not: track.id } } });
        if (again) throw new Refusal('same-file', `The same file came in again as “${again.title}”.`, { more: { trackId: again.id } });
        // While it was removed, the queue passed it over.
        if (track.state === 'received' || track.state === 'working') await enqueue(jobs, tx, QUEUE, { trackId: track.id });
        const back = changed('track.restored', await tx.track.update({ where: { id: track.id }, data: { removedAt: null } }));
        return { ...back, rows: { ...back.rows, ...(await marksOf(tx, track.id)) } };
      });
    },
  );

  app.post(
    '/api/films/:film/tracks/:track/retry',
    {
      config: { permission: 'music.edit' },
      schema: { summary: 'Work on a track again, after a failure or to have it analysed anew; what people marked stays', params: OneTrack, response: { 200: Track } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const track = await liveTrack(tx, filmId, request.params.track);
        checkRetry({ state: track.state, failure: track.failure as TrackFailure | null });
        await enqueue(jobs, tx, QUEUE, { trackId: track.id });
        return changed('track.retried', await tx.track.update({ where: { id: track.id }, data: { state: 'received', version: null, failure: Prisma.DbNull } }));
      });
    },
  );

  app.post(
    '/api/films/:film/tracks/:track/lock',
    {
      config: { permission: 'music.lock' },
      schema: { summary: 'Choose the music of the film: lock this track instead of the one that was', params: OneTrack, body: LockChange, response: { 200: Track } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await holdChoice(tx, filmId);
        const track = await liveTrack(tx, filmId, request.params.track);
        if ((before?.id ?? null) !== request.body.instead) throw meanwhile(before);
        const freed = before && before.id !== track.id ? [await tx.track.update({ where: { id: before.id }, data: { locked: false } })] : [];
        return changed('track.locked', await tx.track.update({ where: { id: track.id }, data: { locked: true } }), ...freed);
      });
    },
  );

  app.delete(
    '/api/films/:film/tracks/:track/lock',
    { config: { permission: 'music.lock' }, schema: { summary: 'Unlock a track: the choice is open again', params: OneTrack, response: { 200: Track } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await holdChoice(tx, filmId);
        const track = await liveTrack(tx, filmId, request.params.track);
        if (!track.locked) throw meanwhile(before);
        return changed('track.unlocked', await tx.track.update({ where: { id: track.id }, data: { locked: false } }));
      });
    },
  );

  app.get(
    '/api/films/:film/tracks/:track/media/:version/:file',
    {
      config: { permission: 'music.read' },
      schema: {
        summary: 'play.m4a, or a level of the wave: wave-0.bin (samples, signed 16 bit, mono, 48 kHz) to wave-5.bin (lowest and highest of 8 points of the level below), by range',
        params: Type.Object({ film: Type.String(), track: Type.String(), version: Type.String(), file: Type.String() }),
      },
    },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      const { track: trackId, version, file } = request.params;
      const track = FILE.test(file) ? await db.track.findFirst({ where: { id: trackId, filmId, version, state: 'ready' } }) : null;
      if (!track) throw new Refusal('not-found');
      const type = TYPES[extname(file)]!;
      return serve(request, reply, storage, { area: 'music', name: `${track.id}/${version}/${file}`, type, etag: `"${version}/${file}"`, cache: 'private, max-age=31536000, immutable' });
    },
  );
}

const meanwhile = (locked: TrackRow | null): Refusal =>
  new Refusal('locked-meanwhile', locked ? `Meanwhile “${locked.title}” is locked. Look again, and decide again if you still want to.` : 'Meanwhile no track is locked. Look again, and decide again if you still want to.', {
    more: { tracks: locked ? [toTrack(locked)] : [] },
  });
