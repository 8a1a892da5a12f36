// The plain way in, for scripts: one multipart/form-data request, its fields before the files they speak of.
import { randomUUID } from 'node:crypto';
import { open } from 'node:fs/promises';
import multipart, { type MultipartFile } from '@fastify/multipart';
import type { FastifyRequest } from 'fastify';
import { Type } from 'typebox';
import type { Clip as ClipRow } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import { Clip } from '../footage/contract.ts';
import { toClip } from '../footage/index.ts';
import { problemOf, Refusal, refusalOf } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import type { Who } from '../platform/write.ts';
import { FileResult } from './contract.ts';
import { drain } from './drain.ts';
import { append } from './incoming.ts';
import type { Kept } from './journal.ts';
import { receive, refuse, type Intake } from './receive.ts';
import { checkRoom, readSaid, type Said } from './rules.ts';
import { beginUpload, withdrawUpload } from './store.ts';

const FILES = 500;
const FIELDS = ['camera', 'card', 'relativePath', 'xxh64'] as const;
/** These speak of the next file only. */
const ONCE = ['relativePath', 'xxh64'] as const;

interface Taken {
  clip: ClipRow;
  duplicate: boolean;
}

/** The route for whole files in one request. To be registered in a scope of its own. */
export async function multipartRoutes(app: App, intake: Intake): Promise<void> {
  const { config, storage, db } = intake.ground;
  await app.register(multipart, { preservePath: true, throwFileSizeLimit: false, limits: { fileSize: config.maxUploadBytes, files: FILES, parts: FILES * 6, fieldSize: 2000 } });
  app.addHook('onError', (request, reply) => drain(request, reply));

  app.post(
    '/api/films/:film/clips/files',
    {
      config: { permission: 'clips.upload' },
      schema: {
        summary: 'Send whole files in one request',
        description:
          'multipart/form-data; the fields camera, card, relativePath and xxh64 (made at the source) stand before the file they speak of. ' +
          'One file: 201 with its clip, or 200 with the clip the film had already and X-Rushlight-Duplicate: true. Several: 207 with what became of each.',
        consumes: ['multipart/form-data'],
        params: Type.Object({ film: Type.String() }),
        response: { 200: Clip, 201: Clip, 207: Type.Array(FileResult) },
      },
    },
    async (request, reply) => {
      if (!request.isMultipart()) throw new Refusal('bad-input', 'Send the files as multipart/form-data.', { fields: [{ field: 'Content-Type', why: 'is not multipart/form-data' }] });
      const length = Number(request.headers['content-length'] ?? 0);
      checkRoom(length, await storage.freeSpace(), Number.MAX_SAFE_INTEGER);
      const results: { name: string; outcome: Taken | Refusal }[] = [];
      for await (const { file, said } of filesOf(request)) {
        const name = said instanceof Refusal ? file.filename : said.name;
        results.push({ name, outcome: said instanceof Refusal ? said : await takeIn(request, file, said).catch(refusalOf) });
        file.file.resume();
      }
      const [first] = results;
      if (!first) throw new Refusal('bad-input', 'The request holds no file.', { fields: [{ field: 'file', why: 'is missing' }] });
      if (results.length === 1) {
        if (first.outcome instanceof Refusal) throw first.outcome;
        const { clip, duplicate } = first.outcome;
        if (duplicate) reply.header('x-rushlight-duplicate', 'true');
        return reply.status(duplicate ? 200 : 201).send(toClip(clip));
      }
      return reply.status(207).send(
        results.map(({ name, outcome }) =>
          outcome instanceof Refusal
            ? { name, clip: null, duplicate: false, problem: problemOf(outcome) }
            : { name, clip: toClip(outcome.clip), duplicate: outcome.duplicate, problem: null },
        ),
      );
    },
  );

  const takeIn = async (request: FastifyRequest, file: MultipartFile, said: Said): Promise<Taken> => {
    const { filmId, userId } = memberOf(request);
    const who = { ...whoOf(request), userId };
    const id = randomUUID();
    const bytes = await intake.locks.during(id, async () => {
      const kept = { id, offset: 0, creation_date: new Date().toISOString(), onePiece: true } as Kept;
      await intake.journal.set(id, kept);
      const row = await beginUpload(db, who, filmId, id, null, said).catch(async (error: unknown) => {
        await intake.journal.clear(id);
        throw error;
      });
      return keep(file, row, kept, who);
    });
    request.log.debug({ upload: id, bytes }, 'whole');
    const { clip, duplicate } = await intake.locks.during(id, () => receive(intake, who, id));
    if (!clip) throw new Error('What comes in one piece is a clip or is refused.');
    return { clip, duplicate };
  };

  const keep = async (file: MultipartFile, row: { id: string; filmId: string }, kept: Kept, who: Who): Promise<number> => {
    const path = storage.path('incoming', row.id);
    try {
      const handle = await open(path, 'wx+');
      try {
        const size = await append(file.file, handle, 0, { early: true, lost: intake.locks.lostOf(row.id), into: [await intake.hashes.from(row.id, path, 0)] });
        if (file.file.truncated) throw new Refusal('too-large', `This server takes files of up to ${config.maxUploadBytes} bytes.`);
        await intake.journal.set(row.id, { ...kept, size } as Kept);
        return size;
      } finally {
        await handle.close();
      }
    } catch (error) {
      const refusal = refusalOf(error);
      if (refusal.code === 'server-error' || refusal.code === 'overloaded') {
        intake.hashes.forget(row.id);
        await withdrawUpload(db, who, row);
        await intake.journal.clear(row.id);
      } else await refuse(intake, who, row, refusal);
      throw refusal;
    }
  };
}

/** The files of a request in order, each with what was said of it before. */
async function* filesOf(request: FastifyRequest): AsyncGenerator<{ file: MultipartFile; said: Said | Refusal }> {
  const given = new Map<string, string>();
  for await (const part of request.parts()) {
    if (part.type === 'field') {
      if (!FIELDS.some((field) => field === part.fieldname)) throw new Refusal('bad-input', `There is no field ${part.fieldname}; there are ${FIELDS.join(', ')}.`, { fields: [{ field: part.fieldname, why: 'is not a field of this request' }] });
      given.set(part.fieldname, String(part.value));
      continue;
    }
    const path = part.filename.includes('/') ? { relativePath: part.filename } : {};
    const said = ((): Said | Refusal => {
      try {
        return readSaid({ ...path, ...Object.fromEntries(given), filename: part.filename });
      } catch (error) {
        return refusalOf(error);
      }
    })();
    for (const field of ONCE) given.delete(field);
    yield { file: part, said };
  }
}
