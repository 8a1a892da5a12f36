// Resumable upload, tus 1.0.0 (https://github.com/tus/tus-resumable-upload-protocol, protocol.md): core, creation,
// creation-with-upload, creation-defer-length, expiration, checksum, termination. Concatenation is not offered: a clip
// sent in pieces side by side would have to be read and written a second time.
import { randomUUID } from 'node:crypto';
import { Readable } from 'node:stream';
import { ERRORS, Metadata, Server } from '@tus/server';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { problemOf, Refusal, refusalOf, type ErrorCode, type Problem } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { asking, askingFor, type Asking } from './asking.ts';
import { ALGORITHMS, readChecksum } from './checksum.ts';
import { drain } from './drain.ts';
import { IncomingStore } from './incoming.ts';
import { receive, refuse, type Intake } from './receive.ts';
import { checkRoom, readSaid } from './rules.ts';
import { beginUpload } from './store.ts';

const VERSION = '1.0.0';
const BYTES_TYPE = 'application/offset+octet-stream';
/** Refusals of a file that has no upload yet, written down all the same for the card's page. */
const KEPT_REFUSALS: ReadonlySet<ErrorCode> = new Set(['too-large', 'disk-full']);

/** The tus library's own errors in our words. */
const IN_OUR_WORDS = new Map<unknown, [ErrorCode, string?]>([
  [ERRORS.INVALID_OFFSET, ['wrong-offset']],
  [ERRORS.FILE_NOT_FOUND, ['not-found']],
  [ERRORS.FILE_NO_LONGER_EXISTS, ['upload-over']],
  [ERRORS.INVALID_TERMINATION, ['upload-over', 'The file has arrived; take the clip out of the film instead.']],
  [ERRORS.INVALID_LENGTH, ['bad-input', 'Say Upload-Length once, as a whole number of bytes, or Upload-Defer-Length: 1 until it is known.']],
  [ERRORS.ERR_SIZE_EXCEEDED, ['wrong-length', 'More bytes were sent than Upload-Length announced.']],
  [ERRORS.ERR_MAX_SIZE_EXCEEDED, ['too-large']],
  [ERRORS.ABORTED, ['wrong-length', 'The connection ended before the request did; go on from the offset that HEAD tells.']],
]);

/** Routes of the resumable upload. To be registered in a scope of its own: bodies are handed on unread. */
export async function tusRoutes(app: App, intake: Intake): Promise<void> {
  const { config, db, storage } = intake.ground;
  const tus = new Server({
    path: '/api/films',
    datastore: new IncomingStore(intake),
    locker: intake.locks,
    maxSize: config.maxUploadBytes,
    allowedOrigins: [],
    disableTerminationForFinishedUploads: true,
    namingFunction: () => randomUUID(),
    generateUrl: (_, { id }) => `/api/films/${asking().filmId}/uploads/${id}`,
    async onUploadCreate(_, upload) {
      checkRoom(upload.size ?? null, await storage.freeSpace(), config.maxUploadBytes);
      return {};
    },
    async onUploadFinish(_, upload) {
      try {
        await finish(upload.id);
        return {};
      } catch (error) {
        // An empty upload is complete when it is made, which tus answers with 201; what the film says of it goes along.
        if (upload.size === 0 && error instanceof Refusal) return { body: JSON.stringify(problemOf(error)) };
        throw error;
      }
    },
    onResponseError: (_, error) => {
      const refusal = inOurWords(error);
      if (refusal.status >= 500) app.log.error({ err: refusal.cause ?? error }, refusal.code);
      return { status_code: refusal.status, body: JSON.stringify(problemOf(refusal)) };
    },
  });
  const finish = (id: string) => intake.locks.during(id, () => receive(intake, asking().who, id));

  app.removeAllContentTypeParsers();
  app.addContentTypeParser('*', (_request, _body, done) => done(null));
  app.addHook('onSend', async (request, reply) => {
    if (request.method !== 'OPTIONS') reply.header('tus-resumable', VERSION);
  });

  app.addHook('onError', (request, reply) => drain(request, reply));

  const options = async (_: FastifyRequest, reply: FastifyReply) =>
    reply
      .status(204)
      .headers({
        'tus-version': VERSION,
        'tus-extension': 'creation,creation-with-upload,creation-defer-length,expiration,checksum,termination',
        'tus-max-size': config.maxUploadBytes,
        'tus-checksum-algorithm': ALGORITHMS.join(','),
      })
      .send();

  const handle = async (request: FastifyRequest, reply: FastifyReply) => {
    const method = methodOf(request);
    if (request.headers['tus-resumable'] !== VERSION) {
      reply.header('tus-version', VERSION);
      throw new Refusal('upload-version');
    }
    checkHeaders(method, request);
    const { upload: id } = request.params as { upload?: string };
    const { filmId, userId, can } = memberOf(request);
    if ((id === undefined) !== (method === 'POST')) throw new Refusal('not-found');
    const ask: Asking = {
      filmId,
      who: { ...whoOf(request), userId },
      anyones: can.has('clips.edit'),
      checksum: readChecksum(one(request, 'upload-checksum')),
      said: method === 'POST' ? readSaid(metadata(request)) : null,
      made: null,
    };
    return askingFor(ask, async () => {
      if (id !== undefined) await checkOwner(ask, id, method);
      const response = await tus.handleWeb(webRequest(request, method));
      const failed = response.status >= 400;
      if (failed) await drain(request, reply);
      const said = await response.text();
      const body = failed && !said.startsWith('{') ? JSON.stringify(problemOf(new Refusal('bad-input', said.trim()))) : said;
      if (failed && method === 'POST') await closeFailed(ask, request, body);
      // A finish that failed, or whose process died, is made up for before the upload is called complete.
      if (method === 'HEAD' && response.status === 200 && response.headers.get('upload-offset') === response.headers.get('upload-length')) await finishLate(id!);
      for (const [name, value] of response.headers) if (!/^(access-control-|content-|connection)/.test(name)) reply.header(name, value);
      if (id !== undefined && codeOf(body) === 'wrong-offset') reply.header('upload-offset', await offsetOf(id));
      if (body.startsWith('{')) reply.type('application/problem+json; charset=utf-8');
      return reply.status(response.status).send(method === 'HEAD' || body === '' ? undefined : body);
    });
  };

  const checkOwner = async ({ filmId, who, anyones }: Asking, id: string, method: string): Promise<void> => {
    const row = await db.upload.findFirst({ where: { id, filmId } });
    if (!row || (row.userId !== who.userId && !anyones)) throw new Refusal('not-found');
    const open = row.state === 'arriving' || row.state === 'arrived' || (method === 'HEAD' && row.bytes === 0n);
    if (open) return;
    const refusal = row.refusal as { code: string; detail: string } | null;
    throw new Refusal('upload-over', refusal ? `The file was refused: ${refusal.detail}` : 'The upload was withdrawn or is too old.', { more: refusal ? { refusal } : {} });
  };

  /** Nobody can go on with an upload whose making was answered with an error. */
  const closeFailed = async (ask: Asking, request: FastifyRequest, body: string): Promise<void> => {
    const { code, detail } = JSON.parse(body) as Problem;
    if (ask.made === null) {
      if (!KEPT_REFUSALS.has(code)) return;
      const row = await beginUpload(db, ask.who, ask.filmId, randomUUID(), Number(one(request, 'upload-length')), ask.said!);
      return refuse(intake, ask.who, row, new Refusal(code, detail));
    }
    const row = await db.upload.findUniqueOrThrow({ where: { id: ask.made } });
    if (row.state === 'arriving') await intake.locks.during(row.id, () => tus.datastore.remove(row.id));
  };

  const finishLate = async (id: string): Promise<void> => {
    const row = await db.upload.findUnique({ where: { id } });
    if (row?.state === 'arriving') await finish(id);
  };

  const offsetOf = async (id: string): Promise<string> => String((await tus.datastore.getUpload(id)).offset);

  const InFilm = Type.Object({ film: Type.String() });
  const One = Type.Object({ film: Type.String(), upload: Type.String() });
  const config_ = { permission: 'clips.upload' as const };
  const tags = ['tus 1.0.0'];
  app.options('/api/films/:film/uploads', { config: { permission: 'anyone' }, schema: { tags, summary: 'What of tus is offered', params: InFilm } }, options);
  app.options('/api/films/:film/uploads/:upload', { config: { permission: 'anyone' }, schema: { tags, summary: 'What of tus is offered', params: One } }, options);
  app.post(
    '/api/films/:film/uploads',
    { config: config_, schema: { tags, summary: 'Begin an upload; Upload-Metadata: filename, relativePath, camera, card, xxh64 (made at the source)', params: InFilm } },
    handle,
  );
  app.head('/api/films/:film/uploads/:upload', { config: config_, schema: { tags, summary: 'How far an upload is', params: One } }, handle);
  app.patch('/api/films/:film/uploads/:upload', { config: config_, schema: { tags, summary: 'Send the bytes that follow', params: One } }, handle);
  app.delete('/api/films/:film/uploads/:upload', { config: config_, schema: { tags, summary: 'Take an upload back', params: One } }, handle);
  app.post('/api/films/:film/uploads/:upload', { config: config_, schema: { tags, summary: 'PATCH, HEAD or DELETE by X-HTTP-Method-Override', params: One } }, handle);
}

/** X-HTTP-Method-Override stands for clients that cannot send PATCH or DELETE (tus core). */
function methodOf(request: FastifyRequest): string {
  return (one(request, 'x-http-method-override') ?? request.method).toUpperCase();
}

function codeOf(body: string): ErrorCode | null {
  return body.startsWith('{') ? (JSON.parse(body) as Problem).code : null;
}

function one(request: FastifyRequest, name: string): string | undefined {
  const value = request.headers[name];
  return Array.isArray(value) ? value[0] : value;
}

function checkHeaders(method: string, request: FastifyRequest): void {
  if (method === 'PATCH') {
    if (one(request, 'content-type') !== BYTES_TYPE) throw new Refusal('upload-type');
    if (!/^\d{1,15}$/.test(one(request, 'upload-offset') ?? '')) throw badHeader('Upload-Offset', 'is not a whole number of bytes');
  }
  const length = one(request, 'upload-length');
  if (length !== undefined && !/^\d{1,15}$/.test(length)) throw badHeader('Upload-Length', 'is not a whole number of bytes');
  if (method !== 'POST') return;
  if (one(request, 'upload-concat') !== undefined) throw badHeader('Upload-Concat', 'is not offered; send the file as one upload');
  const deferred = one(request, 'upload-defer-length');
  if (deferred !== undefined && deferred !== '1') throw badHeader('Upload-Defer-Length', 'can only be 1');
  if ((length === undefined) === (deferred === undefined)) throw badHeader('Upload-Length', 'is said once, or Upload-Defer-Length: 1 until it is known');
}

const badHeader = (field: string, why: string): Refusal => new Refusal('bad-input', `${field} ${why}.`, { fields: [{ field, why }] });

function metadata(request: FastifyRequest): Record<string, string | null> {
  const header = one(request, 'upload-metadata');
  if (header === undefined) return {};
  try {
    return Metadata.parse(header) as Record<string, string | null>;
  } catch {
    throw badHeader('Upload-Metadata', 'is not a list of keys, each with a Base64 value, parted by commas');
  }
}

function inOurWords(error: unknown): Refusal {
  const known = IN_OUR_WORDS.get(error);
  if (known) return new Refusal(...known);
  const { status_code: status, body } = error as { status_code?: number; body?: string };
  if (status === 413) return new Refusal('wrong-length', 'More bytes were sent than Upload-Length announced.');
  if (status !== undefined && status < 500) return new Refusal('bad-input', body?.trim());
  return refusalOf(error);
}

function webRequest({ raw, url }: FastifyRequest, method: string): Request {
  const headers = new Headers();
  for (const [name, value] of Object.entries(raw.headers)) if (value !== undefined) headers.set(name, String(value));
  const bodied = method === 'PATCH' || method === 'POST';
  return new Request(`http://upload.invalid${url}`, { method, headers, ...(bodied ? { body: Readable.toWeb(raw) as ReadableStream, duplex: 'half' as const } : {}) });
}
