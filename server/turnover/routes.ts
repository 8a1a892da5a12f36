import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { checkTurnover } from './check.ts';
import { LetGoChange, PickBook, TurnoverCheck, TurnoverFiles } from './contract.ts';
import { makeFile } from './files/index.ts';
import { listFiles, packageName, packageOf } from './package.ts';
import { pickBook } from './pick-book.ts';
import { inputOf, readInput } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const config = { permission: 'turnover.make' } as const;

/** The check, what is let go of it, and the files, each alone and all as one zip. */
export function turnoverRoutes(app: App): void {
  const { db } = app;

  app.get('/api/films/:film/turnover/check', { config, schema: { summary: 'What is to be seen to before the film is handed over', params: InFilm, response: { 200: TurnoverCheck } } }, async (request) =>
    checkTurnover(await readInput(db, memberOf(request).filmId)),
  );

  app.put(
    '/api/films/:film/turnover/let-go',
    { config, schema: { summary: 'Let remarks of the check go, with a reason, or take them up again', description: 'Answers what stood before, which undoes it.', params: InFilm, body: LetGoChange, response: { 200: LetGoChange } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { changes } = request.body;
      if (new Set(changes.map(({ key }) => key)).size < changes.length) throw new Refusal('bad-input', 'One remark is named twice.', { fields: [{ field: 'changes', why: 'names one remark twice' }] });
      return write(db, whoOf(request), filmId, async (tx) => {
        const keys = changes.map(({ key }) => key);
        const before = new Map((await tx.letGo.findMany({ where: { filmId, key: { in: keys } } })).map(({ key, why }) => [key, why]));
        const gone = changes.flatMap(({ key, why }) => (why === null ? [] : [{ key, why: why.trim() }]));
        if (gone.length > 0) {
          const said = new Set(checkTurnover(await inputOf(tx, filmId)).remarks.map(({ key }) => key));
          if (gone.some(({ key }) => !said.has(key))) throw new Refusal('remark-gone', 'The film changed in the meantime, and this is not to be said of it any more.');
        }
        await tx.letGo.deleteMany({ where: { filmId, key: { in: keys } } });
        const at = new Date();
        await tx.letGo.createMany({ data: gone.map((one) => ({ filmId, byId: userId, at, ...one })) });
        const result = { changes: keys.map((key) => ({ key, why: before.get(key) ?? null })) };
        return { kind: gone.length > 0 ? 'turnover.let-go' : 'turnover.taken-up', subject: keys[0]!, rows: {}, result };
      });
    },
  );

  app.get('/api/films/:film/turnover/pick-book', { config, schema: { summary: 'What plays, slot by slot, for people on paper', params: InFilm, response: { 200: PickBook } } }, async (request) =>
    pickBook(await readInput(db, memberOf(request).filmId)),
  );

  app.get('/api/films/:film/turnover/files', { config, schema: { summary: 'The files of a turnover, with sizes and checksums', params: InFilm, response: { 200: TurnoverFiles } } }, async (request) => {
    const input = await readInput(db, memberOf(request).filmId);
    return { package: `${packageName(input)}.zip`, files: await listFiles(input) };
  });

  app.get(
    '/api/films/:film/turnover/files/:name',
    { config, schema: { summary: 'One file of a turnover', description: 'The same film gives the same bytes. Text in UTF-8 unless its type says another.', params: Type.Object({ film: Type.String(), name: Type.String({ maxLength: 100 }) }) } },
    async (request, reply) => {
      const file = makeFile(await readInput(db, memberOf(request).filmId), request.params.name);
      if (!file) throw new Refusal('not-found', 'A turnover has no file of this name.');
      return reply.type(file.type).header('content-disposition', `attachment; filename="${file.name}"`).header('cache-control', 'no-store').send(file.text);
    },
  );

  app.get('/api/films/:film/turnover/package', { config, schema: { summary: 'Everything as one zip, with checksums', params: InFilm } }, async (request, reply) => {
    const input = await readInput(db, memberOf(request).filmId);
    return reply.type('application/zip').header('content-disposition', `attachment; filename="${packageName(input)}.zip"`).header('cache-control', 'no-store').send(await packageOf(input));
  });
}
