import { readFile } from 'node:fs/promises';
import { Type } from 'typebox';
import { memberOf, whoOf, type Membership } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { serve } from '../platform/serve.ts';
import { write } from '../platform/write.ts';
import { Levels, StringOut, type StringOutVersion } from './contract.ts';
import { pieceFolder, PICTURE_INIT } from './pieces.ts';
import { planOf } from './plan.ts';
import { masterPlaylist, movedBy, picturePlaylist, timescaleOf } from './playlist.ts';
import { soundFolder } from './sound.ts';
import { keepFailed, readFailed, readVersion } from './store.ts';
import { askForStringOut, missingOf } from './worker.ts';

export { startStringOutWorker } from './worker.ts';

const InFilm = Type.Object({ film: Type.String() });
const NAME = '^[0-9a-f]{32}$';
const OfVersion = Type.Object({ film: Type.String(), version: Type.String({ pattern: NAME }) });
const OneFile = Type.Object({ ...OfVersion.properties, file: Type.String({ pattern: '^(sound\\.m3u8|picture\\.m3u8|master\\.m3u8|sound_init\\.mp4|sound_\\d{5}\\.m4s)$' }) });
const OneFragment = Type.Object({ ...OfVersion.properties, piece: Type.String({ pattern: NAME }), at: Type.String({ pattern: '^\\d{1,8}$' }), file: Type.String({ pattern: '^picture_(init\\.mp4|\\d{5}\\.m4s)$' }) });
const FOREVER = 'private, max-age=31536000, immutable';
const PLAYLIST = 'application/vnd.apple.mpegurl';

/** The string-out: the film as it stands, always playable. Who may see offers may see it, for it shows nothing else. */
export const stringout = guarded('stringout', async (app: App) => {
  const { db, ground, storage } = app;
  const permission = { config: { permission: 'offers.read' } } as const;

  app.get(
    '/api/films/:film/string-out',
    { ...permission, schema: { summary: 'The string-out: the one that can be played, and how far the newest is; asking has what is missing made', params: InFilm, response: { 200: StringOut } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const plan = await planOf(db, filmId, await readFailed(ground, filmId));
      const made = await db.stringOut.findUnique({ where: { filmId } });
      const [missing, playable] = await Promise.all([missingOf(ground, filmId, plan), made?.version ? readVersion(ground, filmId, made.version) : null]);
      if (plan.frames > 0 && playable?.version !== plan.version) await askForStringOut(app, filmId);
      return {
        playable: playable && playable.frames > 0 ? playable : null,
        wanted: { version: plan.version, frames: plan.frames, ready: plan.pieces.length - missing.length, total: plan.pieces.length },
        levels: plan.sound.levels,
      };
    },
  );

  app.put(
    '/api/films/:film/string-out/levels',
    { config: { permission: 'offers.edit' }, schema: { summary: 'How loud production sound and music are; answers how they were', params: InFilm, body: Levels, response: { 200: Levels } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await tx.stringOut.findUnique({ where: { filmId } });
        await tx.stringOut.upsert({ where: { filmId }, create: { filmId, ...request.body }, update: request.body });
        return { kind: 'string-out.levels', subject: filmId, rows: {}, result: { productionDb: before?.productionDb ?? 0, musicDb: before?.musicDb ?? -9 } };
      });
    },
  );

  app.post(
    '/api/films/:film/string-out/retry',
    { config: { permission: 'offers.edit' }, schema: { summary: 'Try pieces again that could not be made', params: InFilm, response: { 204: Type.Null() } } },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      await keepFailed(ground, filmId, new Set());
      await askForStringOut(app, filmId);
      return reply.status(204).send(null);
    },
  );

  app.get('/api/films/:film/string-out/:version/:file', { ...permission, schema: { summary: 'Playlists and sound of a version', params: OneFile } }, async (request, reply) => {
    const { version: name, file } = request.params;
    const version = await watchable(memberOf(request), name);
    if (file.startsWith('sound')) {
      const type = file.endsWith('.m3u8') ? PLAYLIST : 'video/mp4';
      return serve(request, reply, storage, { area: 'string-outs', name: `${soundFolder(memberOf(request).filmId, version.sound)}/${file}`, type, etag: `"${version.sound}/${file}"`, cache: FOREVER });
    }
    const text = file === 'picture.m3u8' ? picturePlaylist(version) : masterPlaylist(await fileOf(memberOf(request).filmId, version.stretches[0]?.piece ?? '', PICTURE_INIT));
    return reply.header('cache-control', FOREVER).type(PLAYLIST).send(text);
  });

  app.get(
    '/api/films/:film/string-out/:version/pieces/:piece/:at/:file',
    { ...permission, schema: { summary: 'A fragment of a piece, where it lies in the film: it begins at frame `at`', params: OneFragment } },
    async (request, reply) => {
      const { version: name, piece, file, at } = request.params;
      const { filmId } = memberOf(request);
      const version = await watchable(memberOf(request), name);
      if (!version.stretches.some((stretch) => stretch.piece === piece)) throw new Refusal('not-found');
      const bytes = await fileOf(filmId, piece, file);
      const moved = file === PICTURE_INIT ? bytes : movedBy(bytes, Number(at), version.rate, timescaleOf(await fileOf(filmId, piece, PICTURE_INIT)));
      return reply.header('cache-control', FOREVER).type('video/mp4').send(moved);
    },
  );

  /** A version that may be watched: by who may see all clips any that is kept, by others only what is on offer now. @throws Refusal `not-found`. */
  async function watchable({ filmId, can }: Membership, name: string): Promise<StringOutVersion> {
    const version = await readVersion(ground, filmId, name);
    if (!version) throw new Refusal('not-found');
    if (can.has('clips.read')) return version;
    const shown = version.stretches.flatMap(({ take }) => take?.offerId ?? []);
    const standing = await db.offer.count({ where: { filmId, id: { in: shown }, removedAt: null, clip: { removedAt: null } } });
    if (standing < new Set(shown).size) throw new Refusal('not-found');
    return version;
  }

  async function fileOf(filmId: string, piece: string, file: string): Promise<Buffer> {
    try {
      return await readFile(storage.path('string-outs', `${pieceFolder(filmId, piece)}/${file}`));
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code === 'ENOENT') throw new Refusal('not-found');
      throw error;
    }
  }
});
