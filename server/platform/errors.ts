import type { FastifyError, FastifyReply, FastifyRequest } from 'fastify';

/**
 * Every refusal a client can meet: stable code, status, and what it means. Listed for people in DEVELOPERS.md,
 * "Errors"; tests/server/errors.test.ts compares the two.
 */
export const CATALOGUE = {
  'bad-input': [400, 'A field is missing or not of the shape asked for.'],
  'not-signed-in': [401, 'This needs an account; sign in first.'],
  'not-allowed': [403, 'Your role in this film does not include this.'],
  'foreign-origin': [403, 'The request came from another site.'],
  'not-found': [404, 'There is nothing at this address, or you may not know of it.'],
  'first-account-exists': [409, 'This server already has its first account.'],
  'email-taken': [409, 'There is an account with this address already.'],
  'invitation-unknown': [404, 'No such invitation.'],
  'invitation-over': [410, 'The invitation was used, revoked, or is too old.'],
  'last-director': [409, 'A film keeps at least one director.'],
  'own-branch': [409, 'A part cannot be moved into itself.'],
  'not-a-part': [409, 'Only a part can hold other lines; a slot is a leaf.'],
  'slot-needs-part': [409, 'A slot stands inside a part.'],
  'place-gone': [409, 'The place named is not there any more.'],
  'changed-meanwhile': [409, 'Somebody changed this in the meantime.'],
  'remark-gone': [409, 'The outline changed in the meantime, and this is not to be said of it any more.'],
  'removed-meanwhile': [409, 'Somebody removed this in the meantime.'],
  'as-it-is': [409, 'The outline is in this state already.'],
  'bad-range': [400, 'In must lie before out, and both inside the clip.'],
  'clip-not-ready': [409, 'The clip has not been measured yet, so it has no frames to speak of.'],
  'cannot-retry': [409, 'This cannot be tried again as it stands.'],
  'same-file': [409, 'This file is in the film already.'],
  'track-not-ready': [409, 'The track has not been listened to yet, so it has no moments to speak of.'],
  'track-locked': [409, 'The track is locked; unlock it first.'],
  'track-not-locked': [409, 'Lines are tied to marks of the locked track only.'],
  'locked-meanwhile': [409, 'Somebody locked or unlocked a track while you were looking.'],
  'tied-meanwhile': [409, 'Somebody tied or untied this line while you were looking.'],
  'already-offered': [409, 'This select is on offer for this slot already.'],
  'decided-meanwhile': [409, 'Somebody decided in this slot while you were looking.'],
  'trimmed-meanwhile': [409, 'Somebody trimmed this offer while you were looking, so the verdict would be on something else.'],
  'reason-needed': [400, 'A pass says why.'],
  'note-subject': [400, 'A note is on exactly one thing: a clip, an offer, a slot, or another note.'],
  'unknown-member': [400, 'Somebody addressed is not a member of this film.'],
  'not-author': [403, 'Only who wrote a note can change its words.'],
  'not-a-video': [415, 'The file holds no moving picture that can be read.'],
  'not-music': [415, 'The file holds no music that can be read: wav, flac, mp3, m4a or aac, ogg or opus is taken.'],
  'refused-format': [415, 'This kind of file is not taken in, because it can refer to other files or addresses.'],
  'empty-file': [400, 'The file is empty.'],
  'cut-short': [422, 'The file ends before its own index says it should.'],
  'no-such-bytes': [416, 'The bytes asked for lie past the end of the file.'],
  'wrong-length': [400, 'The bytes that arrived are not as many as were announced.'],
  'wrong-checksum': [409, 'What arrived is not what was sent: the checksums differ. Send the file again.'],
  'manifest-unknown': [415, 'This is no list of files and checksums that is known here: ASC MHL, or a list as xxhsum, md5sum, sha1sum, sha256sum or sha512sum write it.'],
  'manifest-damaged': [422, 'The list of files and checksums is not whole or not well formed.'],
  'manifest-path': [422, 'The list names a path that leads out of the card.'],
  'manifest-duplicate': [422, 'The list names one file twice.'],
  'same-list': [409, 'The card has the very same list already.'],
  'original-differs': [409, 'Two lists say different things of one camera original.'],
  'original-taken': [409, 'This camera original is joined to another clip.'],
  'cut-unknown': [415, 'This is no cut that can be read here: an OpenTimelineIO timeline, or an edit list.'],
  'cut-schema': [415, 'The cut holds a schema, or a version of one, that is not known here.'],
  'cut-damaged': [422, 'The cut is not whole or not well formed.'],
  'cut-rate': [422, 'The cut counts at another rate than the film.'],
  'too-large': [413, 'The file is larger than this server takes.'],
  'disk-full': [507, 'There is not enough room on the server for this file.'],
  'upload-version': [412, 'Uploads speak tus 1.0.0; say so with Tus-Resumable: 1.0.0.'],
  'upload-type': [415, 'The bytes of an upload are sent as application/offset+octet-stream.'],
  'wrong-offset': [409, 'The upload stands at another offset than the request says; HEAD tells it.'],
  'unknown-algorithm': [400, 'The checksum of a chunk is made in a way this server does not know.'],
  'chunk-damaged': [460, 'The chunk is not what its checksum says and was dropped; send it again.'],
  'upload-over': [410, 'This upload was finished, refused, withdrawn, or is too old.'],
  'too-many-requests': [429, 'Too many tries; wait a moment.'],
  'server-error': [500, 'Something went wrong on the server; it has been logged.'],
  'overloaded': [503, 'The server is too busy just now; try again in a moment.'],
} as const satisfies Record<string, readonly [number, string]>;

export type ErrorCode = keyof typeof CATALOGUE;

export interface FieldFault {
  field: string;
  why: string;
}

/**
 * A refusal in the product's own words.
 * @param detail what is wrong here and what would be right; the catalogue's sentence when left out.
 * @param more further members of the problem document, such as the rows as they now stand.
 */
export class Refusal extends Error {
  override readonly name = 'Refusal';
  readonly code: ErrorCode;
  readonly status: number;
  readonly fields: FieldFault[];
  readonly more: Record<string, unknown>;
  constructor(code: ErrorCode, detail?: string, { fields = [], more = {}, cause }: { fields?: FieldFault[]; more?: Record<string, unknown>; cause?: unknown } = {}) {
    super(detail ?? CATALOGUE[code][1], { cause });
    this.code = code;
    this.status = CATALOGUE[code][0];
    this.fields = fields;
    this.more = more;
  }
}

/** A problem document, RFC 9457. */
export interface Problem {
  type: string;
  title: string;
  status: number;
  code: ErrorCode;
  detail: string;
  fields?: FieldFault[];
  [more: string]: unknown;
}

/** The problem document of a refusal. */
export function problemOf(refusal: Refusal): Problem {
  return {
    ...refusal.more,
    type: `urn:rushlight:problem:${refusal.code}`,
    title: CATALOGUE[refusal.code][1],
    status: refusal.status,
    code: refusal.code,
    detail: refusal.message,
    ...(refusal.fields.length ? { fields: refusal.fields } : {}),
  };
}

/** Turns whatever was thrown into a refusal; the text of anything unforeseen stays on the server. */
export function refusalOf(error: unknown): Refusal {
  if (error instanceof Refusal) return error;
  const { validation, validationContext, statusCode, code } = error as Partial<FastifyError>;
  if (validation) {
    const fields = validation.map((fault) => ({
      field: fieldName(validationContext, fault.instancePath, fault.params),
      why: fault.message ?? 'not of the shape asked for',
    }));
    return new Refusal('bad-input', fields.map(({ field, why }) => `${field} ${why}`).join('; '), { fields });
  }
  if (code === 'ENOSPC' || code === 'EDQUOT') return new Refusal('disk-full', undefined, { cause: error });
  if (statusCode === 429) return new Refusal('too-many-requests');
  if (statusCode === 503) return new Refusal('overloaded');
  if (statusCode === 413) return new Refusal('too-large');
  if (statusCode === 404) return new Refusal('not-found');
  if (statusCode !== undefined && statusCode >= 400 && statusCode < 500) return new Refusal('bad-input', (error as Error).message);
  return new Refusal('server-error', undefined, { cause: error });
}

function fieldName(context: string | undefined, path: string, params: unknown): string {
  const inside = path.slice(1).replaceAll('/', '.');
  const named = (params ?? {}) as { requiredProperties?: string[]; missingProperty?: string; additionalProperty?: string; additionalProperties?: string[] };
  const extra = named.requiredProperties?.[0] ?? named.missingProperty ?? named.additionalProperty ?? named.additionalProperties?.[0];
  return [inside, extra].filter(Boolean).join('.') || (context ?? 'request');
}

/** The one place where an error becomes an answer. */
export function answerError(error: unknown, request: FastifyRequest, reply: FastifyReply): FastifyReply {
  const refusal = refusalOf(error);
  if (refusal.status >= 500) request.log.error({ err: refusal.cause ?? error }, refusal.code);
  return reply.status(refusal.status).type('application/problem+json; charset=utf-8').send(problemOf(refusal));
}
