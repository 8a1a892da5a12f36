import { Type } from 'typebox';
import { guarded, type App } from './http.ts';
import { workerLives } from './worker-presence.ts';

const State = Type.Object({ database: Type.String(), storage: Type.String(), worker: Type.String() });

/** `GET /api/health`: 200 when everything needed works; otherwise 503, and which does not. */
export const health = guarded('health', async (app: App) => {
  app.get(
    '/api/health',
    { config: { permission: 'anyone' }, logLevel: 'warn', schema: { summary: 'Whether database, storage and worker work', response: { 200: State, 503: State } } },
    async (request, reply) => {
      const [database, storage, worker] = await Promise.all([
        check(async () => void (await app.db.$queryRaw`SELECT 1`), 'cannot be reached'),
        check(() => app.storage.check(), 'the media folder is missing or cannot be written'),
        check(async () => {
          if (!(await workerLives(app.db))) throw new Error('no worker');
        }, 'no worker is running'),
      ]);
      const well = [database, storage, worker].every((state) => state === 'ok');
      return reply.status(well ? 200 : 503).header('cache-control', 'no-store').send({ database, storage, worker });

      function check(work: () => Promise<void>, otherwise: string): Promise<string> {
        return work().then(
          () => 'ok',
          (error: unknown) => {
            request.log.warn({ err: error }, otherwise);
            return otherwise;
          },
        );
      }
    },
  );
});
