import { readFile } from 'node:fs/promises';
import { extname } from 'node:path';
import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { serve } from '../platform/serve.ts';
import { segmentIsOffered, stillIsOffered, withGaps, type Offered } from './offered.ts';

/** Every file a proxy consists of, and nothing else that may lie beside it. */
const FILE = /^(?:(?:master|picture|sound)\.m3u8|(?:picture|sound)_(?:init\.mp4|\d{5}\.m4s)|stills\/\d{6}\.jpg|(?:peaks|traces)\.json)$/;

const TYPES: Record<string, string> = {
  '.m3u8': 'application/vnd.apple.mpegurl',
  '.mp4': 'video/mp4',
  '.m4s': 'video/iso.segment',
  '.jpg': 'image/jpeg',
  '.json': 'application/json; charset=utf-8',
};

/**
 * The files of proxies, for who may read clips; for who may only read offers, what is on offer.
 * Membership and offers are looked up anew for every file, so that whoever is taken off stops at the next segment.
 * An unfinished proxy is served as far as it is; its address stays the same when it is whole.
 */
export function mediaRoutes(app: App): void {
  const { db, storage } = app;
  app.get(
    '/api/films/:film/media/:clip/:version/*',
    {
      config: { permission: 'offers.read' },
      schema: {
        summary: 'A file of a proxy: master.m3u8 and what it names, stills, peaks, traces',
        params: Type.Object({ film: Type.String(), clip: Type.String(), version: Type.String(), '*': Type.String() }),
      },
    },
    async (request, reply) => {
      const { filmId, can } = memberOf(request);
      const { clip: clipId, version, '*': file } = request.params;
      if (!FILE.test(file)) throw new Refusal('not-found');
      const clip = await db.clip.findFirst({ where: { id: clipId, filmId, proxyVersion: version } });
      if (!clip) throw new Refusal('not-found');
      const name = `${clip.id}/${version}/${file}`;
      const type = TYPES[extname(file)] ?? 'application/octet-stream';
      const whole = clip.state === 'ready';
      const etag = whole ? `"${version}/${file}"` : null;

      if (can.has('clips.read'))
        return serve(request, reply, storage, { area: 'proxies', name, type, etag, cache: whole ? 'private, max-age=31536000, immutable' : 'no-store' });

      if (clip.removedAt || !clip.rateNum || !clip.rateDen) throw new Refusal('not-found');
      const offers = await db.offer.findMany({
        where: { clipId, filmId, removedAt: null, slot: { removedAt: null } },
        select: { in: true, outExclusive: true },
      });
      const offered: Offered = { rate: { num: clip.rateNum, den: clip.rateDen }, ranges: offers };
      if (offers.length === 0) throw new Refusal('not-found');
      const playlist = async (of: string): Promise<string> => readPlaylist(storage.path('proxies', `${clip.id}/${version}/${of}.m3u8`));

      if (file === 'picture.m3u8' || file === 'sound.m3u8') {
        const text = withGaps(await playlist(file.slice(0, -'.m3u8'.length)), offered);
        return reply.header('cache-control', 'no-store').type(type).send(text);
      }
      if (!(await mayFetch(file, offered, playlist))) throw new Refusal('not-allowed', 'Only what is on offer can be watched in your role.');
      // Kept for no longer than the offer stands.
      return serve(request, reply, storage, { area: 'proxies', name, type, etag, cache: 'private, no-cache' });
    },
  );
}

/** Whether a file shows nothing but what is on offer. */
async function mayFetch(file: string, offered: Offered, playlist: (of: string) => Promise<string>): Promise<boolean> {
  if (file === 'master.m3u8' || file.endsWith('init.mp4')) return true;
  const [, rendition] = /^(picture|sound)_\d+\.m4s$/.exec(file) ?? [];
  if (rendition) return segmentIsOffered(await playlist(rendition), file, offered);
  const [, still] = /^stills\/(\d+)\.jpg$/.exec(file) ?? [];
  return still !== undefined && stillIsOffered(Number(still), offered);
}

async function readPlaylist(path: string): Promise<string> {
  try {
    return await readFile(path, 'utf8');
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ENOENT') throw new Refusal('not-found');
    throw error;
  }
}
