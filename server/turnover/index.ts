import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { remarksOn } from './check.ts';
import { DEFAULT_HANDLES, HANDLE_FRAMES, Turnover } from './contract.ts';
import { filesOf, zipOf } from './files/index.ts';
import { readInput } from './input.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneFile = Type.Object({ film: Type.String(), file: Type.String({ pattern: '^[a-z0-9.-]{1,40}$' }) });
const Asked = Type.Object({ handles: Type.Optional(HANDLE_FRAMES) }, { additionalProperties: false });
const TYPES: Record<string, string> = { otio: 'application/json; charset=utf-8', edl: 'text/plain; charset=us-ascii', csv: 'text/csv; charset=utf-8; header=present', vtt: 'text/vtt; charset=utf-8' };

/** The turnover: the check, and the package for the cutting room. It only reads. */
export const turnover = guarded('turnover', async (app: App) => {
  const { db } = app;
  const permission = { config: { permission: 'turnover.read' } } as const;

  app.get(
    '/api/films/:film/turnover',
    { ...permission, schema: { summary: 'What stands between the film and the cutting room, and the files that would leave', params: InFilm, querystring: Asked, response: { 200: Turnover } } },
    async (request) => {
      const handles = request.query.handles ?? DEFAULT_HANDLES;
      const input = await readInput(db, memberOf(request).filmId);
      return {
        ...{ asOf: input.seq, shots: input.shots.length, picks: input.shots.filter(({ take }) => take?.approved).length, remarks: remarksOn(input, handles) },
        files: filesOf(input, handles).map(({ text: _, ...file }) => file),
      };
    },
  );

  app.get('/api/films/:film/turnover/package.zip', { ...permission, schema: { summary: 'All files with their checksums, as one archive; the same film gives the same bytes', params: InFilm, querystring: Asked } }, async (request, reply) => {
    const input = await readInput(db, memberOf(request).filmId);
    const name = `${input.film.title.normalize('NFKD').replace(/[^\w.-]+/g, '-').replace(/^-+|-+$/g, '') || 'film'}-turnover.zip`;
    return reply
      .type('application/zip')
      .header('cache-control', 'no-store')
      .header('content-disposition', `attachment; filename="${name}"`)
      .send(Buffer.from(zipOf(filesOf(input, request.query.handles ?? DEFAULT_HANDLES), input.at)));
  });

  app.get('/api/films/:film/turnover/files/:file', { ...permission, schema: { summary: 'One of the files', params: OneFile, querystring: Asked } }, async (request, reply) => {
    const input = await readInput(db, memberOf(request).filmId);
    const file = filesOf(input, request.query.handles ?? DEFAULT_HANDLES).find(({ name }) => name === request.params.file);
    if (!file) throw new Refusal('not-found', 'There is no such file in the turnover.');
    return reply
      .type(TYPES[file.name.split('.').at(-1)!] ?? 'text/plain; charset=utf-8')
      .header('cache-control', 'no-store')
      .header('content-disposition', `attachment; filename="${file.name}"`)
      .send(file.text);
  });
});
