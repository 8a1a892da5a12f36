import { Type } from 'typebox';
import { memberOf, signedInOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { BroughtBack, PastPage, PastState, StateName, TakenBack } from './contract.ts';
import { bringBack, BROUGHT_BACK, listMoments, nameState, stateAt, takeBackBringing, TAKEN_BACK } from './history.ts';

const InFilm = Type.Object({ film: Type.String() });
const seqNumber = Type.Integer({ minimum: 0, maximum: 2 ** 31 - 1, description: 'Number of an event.' });
const AtSeq = Type.Object({ film: Type.String(), seq: seqNumber }, { description: 'The state is the one that the event left.' });
const Before = Type.Object({ before: Type.Optional(seqNumber) });
const read = { permission: 'outline.read' } as const;
const edit = { permission: 'outline.edit' } as const;

/** The routes of the outline's history: earlier states, their names, and bringing one back. */
export async function historyRoutes(app: App): Promise<void> {
  const { db } = app;

  app.get(
    '/api/films/:film/outline/history',
    { config: read, schema: { summary: 'Who worked on the outline, when, and on what; newest first, a page at a time', params: InFilm, querystring: Before, response: { 200: PastPage } } },
    (request) => listMoments(db, memberOf(request).filmId, request.query.before ?? null),
  );

  app.get(
    '/api/films/:film/outline/at/:seq',
    { config: read, schema: { summary: 'The outline as it stood after an event', params: AtSeq, response: { 200: PastState } } },
    async (request) => {
      const { seq } = request.params;
      return { seq, items: await stateAt(db, memberOf(request).filmId, seq) };
    },
  );

  app.post(
    '/api/films/:film/outline/at/:seq/bring-back',
    { config: edit, schema: { summary: 'Make the outline what it was after an event, as one change', params: AtSeq, response: { 200: BroughtBack } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { seq } = request.params;
      return write(db, whoOf(request), filmId, async (tx) => {
        const items = await bringBack(tx, filmId, seq);
        if (items.length === 0) throw new Refusal('as-it-is');
        return { kind: BROUGHT_BACK, subject: String(seq), rows: { items }, result: { items } };
      });
    },
  );

  app.post(
    '/api/films/:film/outline/at/:seq/take-back',
    { config: edit, schema: { summary: 'Take back what bringing a state back did, by the number of its event; what somebody changed since stays', params: AtSeq, response: { 200: TakenBack } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { seq } = request.params;
      return write(db, whoOf(request), filmId, async (tx) => {
        const { changed: items, kept } = await takeBackBringing(tx, filmId, seq);
        return { kind: TAKEN_BACK, subject: String(seq), rows: { items: [...items] }, result: { items: [...items], kept: [...kept] } };
      });
    },
  );

  app.put(
    '/api/films/:film/outline/at/:seq/name',
    { config: edit, schema: { summary: 'Name a state of the outline', params: AtSeq, body: StateName, response: { 200: StateName } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { seq } = request.params;
      const name = request.body.name.trim();
      return write(db, whoOf(request), filmId, async (tx) => {
        await nameState(tx, filmId, seq, name, signedInOf(request).id);
        return { kind: 'outline.named', subject: String(seq), rows: {}, result: { name } };
      });
    },
  );

  app.delete(
    '/api/films/:film/outline/at/:seq/name',
    { config: edit, schema: { summary: 'Take the name of a state away', params: AtSeq, response: { 204: Type.Null() } } },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      const { seq } = request.params;
      await write(db, whoOf(request), filmId, async (tx) => {
        await nameState(tx, filmId, seq, null, signedInOf(request).id);
        return { kind: 'outline.unnamed', subject: String(seq), rows: {}, result: null };
      });
      return reply.status(204).send(null);
    },
  );
}
