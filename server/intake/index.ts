import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { guarded, type App } from '../platform/http.ts';
import { multipartRoutes } from './multipart.ts';
import { Upload } from './contract.ts';
import { openIntake } from './receive.ts';
import { isHere, listUploads } from './store.ts';
import { sweep } from './sweep.ts';
import { tusRoutes } from './tus.ts';

export { drain } from './drain.ts';
export { toUpload } from './rows.ts';
export { checkRoom, filmFolder, safeParts } from './rules.ts';
export { listUploads } from './store.ts';
export { sweepIntake } from './sweep.ts';

/** Uploads expire, and a database that was away leaves whole files waiting: both are looked after this often. */
const SWEEP_EVERY_MS = 5 * 60_000;

/** How files come in: resumable uploads for the page, plain multipart for scripts, one way of taking them in for both. */
export const intake = guarded('intake', async (app: App) => {
  const ways = openIntake(app.ground);
  const sweeping = setInterval(() => {
    sweep(ways, (error) => app.log.error({ err: error }, 'intake sweep')).catch((error: unknown) => app.log.error({ err: error }, 'intake sweep'));
  }, SWEEP_EVERY_MS);
  app.addHook('onClose', async () => {
    clearInterval(sweeping);
    await ways.locks.close();
  });
  app.get(
    '/api/films/:film/uploads',
    { config: { permission: 'clips.read' }, schema: { summary: 'Files on their way in, and what became of the others', params: Type.Object({ film: Type.String() }), response: { 200: Type.Array(Upload) } } },
    async (request) => listUploads(app.db, memberOf(request).filmId, ['arriving', 'arrived', 'refused']),
  );
  app.get(
    '/api/films/:film/uploads/here',
    {
      config: { permission: 'clips.upload' },
      schema: {
        summary: 'Whether a file is here already: as a clip of exactly these bytes, or as this very file of its card, kept beside the clips',
        params: Type.Object({ film: Type.String() }),
        querystring: Type.Object(
          {
            bytes: Type.Integer({ minimum: 0 }),
            xxh64: Type.String({ pattern: '^[0-9a-f]{16}$' }),
            card: Type.Optional(Type.String({ maxLength: 80 })),
            relativePath: Type.Optional(Type.String({ maxLength: 4096 })),
          },
          { additionalProperties: false },
        ),
        response: { 200: Type.Object({ here: Type.Boolean() }) },
      },
    },
    async (request) => {
      const { bytes, xxh64, card = '', relativePath = '' } = request.query;
      return { here: await isHere(app.db, memberOf(request).filmId, { bytes, xxh64, card, relativePath }) };
    },
  );
  await app.register(async (scope) => tusRoutes(scope as App, ways));
  await app.register(async (scope) => multipartRoutes(scope as App, ways));
});
