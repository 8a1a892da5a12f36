import { Type } from 'typebox';
import { memberOf } from '../access/index.ts';
import { guarded, type App } from '../platform/http.ts';
import type { ClipsWhole, FilmEvent, Snapshot } from './contract.ts';
import { eventsAfter } from './feed.ts';
import { clipsWhole, snapshotOf } from './snapshot.ts';
import { openSockets, type Live } from './sockets.ts';
import { visibleRows } from './visible.ts';

const InFilm = Type.Object({ film: Type.String() });

/** State, events and sockets: how browsers come to know and stay in step. No other capability imports this one. */
export const live = guarded('live', async (app: App) => {
  const { db } = app;
  let sockets: Live | null = null;
  app.addHook('onReady', async () => {
    sockets = await openSockets(app, app.server);
  });
  app.addHook('preClose', async () => sockets?.close());

  app.get(
    '/api/films/:film/state',
    {
      config: { permission: 'film.read' },
      schema: { summary: 'What every page needs of a film, as of event `seq`; of the clips those on offer', params: InFilm, response: { 200: Type.Unsafe<Snapshot>({ type: 'object', additionalProperties: true }) } },
    },
    async (request) => {
      const member = memberOf(request);
      return snapshotOf(db, member, sockets?.progressOf(member.filmId) ?? []);
    },
  );

  app.get(
    '/api/films/:film/state/clips',
    {
      config: { permission: 'film.read' },
      schema: {
        summary: 'Clips with their selects and notes, and what was seen of them, as of event `seq`',
        params: InFilm,
        querystring: Type.Object({ id: Type.Array(Type.String({ minLength: 1, maxLength: 64 }), { minItems: 1, maxItems: 100 }) }, { additionalProperties: false }),
        response: { 200: Type.Unsafe<ClipsWhole>({ type: 'object', additionalProperties: true }) },
      },
    },
    async (request) => clipsWhole(db, memberOf(request), request.query.id),
  );

  app.get(
    '/api/films/:film/events',
    {
      config: { permission: 'film.read' },
      schema: {
        summary: 'What changed after event `after`, oldest first',
        params: InFilm,
        querystring: Type.Object({ after: Type.Integer({ minimum: 0, default: 0 }), limit: Type.Integer({ minimum: 1, maximum: 1000, default: 200 }) }),
        response: { 200: Type.Array(Type.Unsafe<FilmEvent>({ type: 'object', additionalProperties: true })) },
      },
    },
    async (request) => {
      const { filmId, can } = memberOf(request);
      const { after, limit } = request.query;
      const [events, offers] = await Promise.all([
        eventsAfter(db, filmId, after, limit),
        db.offer.findMany({ where: { filmId, removedAt: null }, select: { clipId: true }, distinct: ['clipId'] }),
      ]);
      const offered = new Set(offers.map((offer) => offer.clipId));
      return events.map((event) => ({ ...event, rows: visibleRows(event.rows, can, offered) }));
    },
  );
});
