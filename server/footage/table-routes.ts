import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { Clip, FootageFilter, FootageRow, FootageTable } from './contract.ts';
import { toClip } from './rows.ts';
import { clipsBeside, idsOf, rowsOf, tableOf, windowOf } from './table.ts';

const InFilm = Type.Object({ film: Type.String() });
const Window = Type.Object({ ...FootageFilter.properties, offset: Type.Optional(Type.Integer({ minimum: 0, maximum: 1_000_000 })), limit: Type.Optional(Type.Integer({ minimum: 1, maximum: 200 })) }, { additionalProperties: false });
const Beside = Type.Object(
  {
    ...FootageFilter.properties,
    from: Type.Optional(Type.String({ description: 'A clip; left out for the beginning of the table, or of those before, its end.' })),
    way: Type.Optional(Type.Enum(['after', 'before'])),
    limit: Type.Optional(Type.Integer({ minimum: 1, maximum: 20 })),
    unseen: Type.Optional(Type.Boolean({ description: 'Only clips of which the crew has not seen everything.' })),
  },
  { additionalProperties: false },
);

/** The footage as a table of days and cameras: asked for a window at a time. */
export function tableRoutes(app: App): void {
  const { db } = app;
  const permission = { config: { permission: 'clips.read' } } as const;

  app.get(
    '/api/films/:film/footage/table',
    { ...permission, schema: { summary: 'How many clips each day and camera has, of those asked for', params: InFilm, querystring: FootageFilter, response: { 200: FootageTable } } },
    async (request) => tableOf(db, memberOf(request).filmId, request.query),
  );

  app.get(
    '/api/films/:film/footage/clips',
    { ...permission, schema: { summary: 'A window of the clips asked for, in the order of the table', params: InFilm, querystring: Window, response: { 200: Type.Array(FootageRow) } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { offset = 0, limit = 60, ...filter } = request.query;
      return windowOf(db, filmId, userId, filter, { offset, limit });
    },
  );

  app.get(
    '/api/films/:film/footage/ids',
    { ...permission, schema: { summary: 'Ids of all clips asked for, in the order of the table', params: InFilm, querystring: FootageFilter, response: { 200: Type.Array(Type.String()) } } },
    async (request) => idsOf(db, memberOf(request).filmId, request.query),
  );

  app.post(
    '/api/films/:film/footage/rows',
    { ...permission, schema: { summary: 'Rows of the table by their ids', params: InFilm, body: Type.Object({ ids: Type.Array(Type.String(), { maxItems: 200 }) }, { additionalProperties: false }), response: { 200: Type.Array(FootageRow) } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      return rowsOf(db, filmId, userId, request.body.ids);
    },
  );

  app.get(
    '/api/films/:film/footage/beside',
    { ...permission, schema: { summary: 'The clips that follow one in the table, or stand before it', params: InFilm, querystring: Beside, response: { 200: Type.Array(Clip) } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { from = null, way = 'after', limit = 1, unseen = false, ...filter } = request.query;
      if (from !== null && !(await db.clip.findFirst({ where: { id: from, filmId }, select: { id: true } }))) throw new Refusal('not-found', 'This film has no such clip.');
      return (await clipsBeside(db, filmId, { from, way, limit, unseen }, filter)).map(toClip);
    },
  );
}
