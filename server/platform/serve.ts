import type { FastifyReply, FastifyRequest } from 'fastify';
import { Refusal } from './errors.ts';
import type { Area, Storage } from './storage.ts';

interface Served {
  area: Area;
  name: string;
  type: string;
  /** Strong validator; null for what still grows. */
  etag: string | null;
  cache: string;
}

/**
 * Answers with a file of the media folder, whole or one range of it (RFC 9110, 14): several ranges at once are answered
 * with the whole, as the standard allows.
 * @throws Refusal `not-found` when the file is not there, `no-such-bytes` for a range past its end.
 */
export async function serve(request: FastifyRequest, reply: FastifyReply, storage: Storage, { area, name, type, etag, cache }: Served): Promise<FastifyReply> {
  const size = await sizeOf(storage, area, name);
  reply.header('cache-control', cache).header('accept-ranges', 'bytes').type(type);
  if (etag) {
    reply.header('etag', etag);
    if (request.headers['if-none-match']?.split(/\s*,\s*/).includes(etag)) return reply.status(304).send();
  }
  const condition = request.headers['if-range'];
  const range = condition === undefined || condition === etag ? rangeOf(request.headers.range, size) : null;
  if (range === 'past-end') {
    reply.header('content-range', `bytes */${size}`);
    throw new Refusal('no-such-bytes', `The file has ${size} bytes.`);
  }
  if (range) reply.status(206).header('content-range', `bytes ${range.start}-${range.endInclusive}/${size}`);
  reply.header('content-length', range ? range.endInclusive - range.start + 1 : size);
  return reply.send(request.method === 'HEAD' || size === 0 ? null : storage.openRange(area, name, range ?? undefined));
}

async function sizeOf(storage: Storage, area: Area, name: string): Promise<number> {
  try {
    return await storage.size(area, name);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') throw new Refusal('not-found');
    throw error;
  }
}

/** The one range a Range header asks for; null when it asks for none, or in a way that is to be ignored. */
export function rangeOf(header: string | undefined, size: number): { start: number; endInclusive: number } | 'past-end' | null {
  const [, first, last] = /^bytes=(\d*)-(\d*)$/.exec(header ?? '') ?? [];
  if (first === undefined || last === undefined || (first === '' && last === '')) return null;
  if (first === '') return Number(last) === 0 || size === 0 ? 'past-end' : { start: Math.max(0, size - Number(last)), endInclusive: size - 1 };
  if (last !== '' && Number(last) < Number(first)) return null;
  if (Number(first) >= size) return 'past-end';
  return { start: Number(first), endInclusive: last === '' ? size - 1 : Math.min(Number(last), size - 1) };
}
