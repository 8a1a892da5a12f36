import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { FitAdoption, Item } from './contract.ts';
import { adoptFit, dropFit } from './fitted.ts';

const InFilm = Type.Object({ film: Type.String() });
const Changed = Type.Object({ items: Type.Array(Item) });
const config = { permission: 'outline.edit' } as const;

/** Lengths fitted to music: kept, and put away. They are worked out in the page (core/fit-problem.ts). */
export function fitRoutes(app: App): void {
  const { db } = app;

  app.put(
    '/api/films/:film/outline/fitted',
    { config, schema: { summary: 'Keep the lengths of a fit to music, as one change', params: InFilm, body: FitAdoption, response: { 200: Changed } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const items = await adoptFit(tx, filmId, request.body);
        return { kind: 'outline.fitted', subject: filmId, rows: { items }, result: { items } };
      });
    },
  );

  app.delete(
    '/api/films/:film/outline/fitted',
    { config, schema: { summary: 'Put the lengths of a fit away, so that the budget has its say', params: InFilm, response: { 200: Changed } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const items = await dropFit(tx, filmId);
        return { kind: 'outline.unfitted', subject: filmId, rows: { items }, result: { items } };
      });
    },
  );
}
