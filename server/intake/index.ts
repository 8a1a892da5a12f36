import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { guarded, type App } from '../platform/http.ts';
import { multipartRoutes } from './multipart.ts';
import { Upload } from './contract.ts';
import { openIntake } from './receive.ts';
import { listUploads } from './store.ts';
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
    async (request) => listUploads(app.db, memberOf(request).filmId),
  );
  await app.register(async (scope) => tusRoutes(scope as App, ways));
  await app.register(async (scope) => multipartRoutes(scope as App, ways));
});
