import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { checkFreeId } from '../platform/client-id.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { theRow, write } from '../platform/write.ts';
import { NewSelect, Select, SelectChange, SelectsFound } from './contract.ts';
import { toSelect } from './rows.ts';
import { checkInClip } from './rules.ts';
import { searchSelects } from './search.ts';
import { liveClip, lockSelect } from './store.ts';

export { toSelect } from './rows.ts';
export { checkInClip } from './rules.ts';
export { liveClip, listSelects } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneSelect = Type.Object({ film: Type.String(), select: Type.String() });

/**
 * Selects: the usable stretches of clips.
 * Removing one leaves its offers standing: each has a trim of its own, and the removed row can be restored.
 */
export const selects = guarded('selects', async (app: App) => {
  const { db } = app;

  app.get(
    '/api/films/:film/selects',
    {
      config: { permission: 'selects.read' },
      schema: {
        summary: 'Look for selects by beginnings of words',
        description: 'Every word is in the name, camera, card, reel or location of the clip, or in the label; “circled” finds the circled ones.',
        params: InFilm,
        querystring: Type.Object({ words: Type.String({ minLength: 1, maxLength: 200 }), limit: Type.Optional(Type.Integer({ minimum: 1, maximum: 200 })) }, { additionalProperties: false }),
        response: { 200: SelectsFound },
      },
    },
    async (request) => searchSelects(db, memberOf(request).filmId, request.query.words, request.query.limit ?? 50),
  );

  app.post(
    '/api/films/:film/selects',
    { config: { permission: 'selects.edit' }, schema: { summary: 'Cut a select out of a clip', params: InFilm, body: NewSelect, response: { 201: Select } } },
    async (request, reply) => {
      const { filmId, userId } = memberOf(request);
      const { id, clipId, in: first, outExclusive, circled = false, label = '' } = request.body;
      const made = await write(db, whoOf(request), filmId, async (tx) => {
        checkInClip({ in: first, outExclusive }, await liveClip(tx, filmId, clipId));
        await checkFreeId(id, (one) => tx.select.count({ where: { id: one } }));
        const result = toSelect(await tx.select.create({ data: { ...(id && { id }), filmId, clipId, in: first, outExclusive, circled, label, madeById: userId } }));
        return { kind: 'select.made', subject: result.id, rows: { selects: [result] }, result };
      }, theRow('selects'));
      return reply.status(201).send(made);
    },
  );

  app.patch(
    '/api/films/:film/selects/:select',
    { config: { permission: 'selects.edit' }, schema: { summary: 'Adjust, circle or label a select', params: OneSelect, body: SelectChange, response: { 200: Select } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockSelect(tx, filmId, request.params.select);
        if (before.removedAt) throw new Refusal('removed-meanwhile');
        const after = { in: before.in, outExclusive: before.outExclusive, ...request.body };
        checkInClip(after, before.clip);
        const result = toSelect(await tx.select.update({ where: { id: before.id }, data: after }));
        return { kind: 'select.changed', subject: result.id, rows: { selects: [result] }, result };
      }, theRow('selects'));
    },
  );

  app.delete(
    '/api/films/:film/selects/:select',
    { config: { permission: 'selects.edit' }, schema: { summary: 'Remove a select; its offers stay', params: OneSelect, response: { 200: Select } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockSelect(tx, filmId, request.params.select);
        if (before.removedAt) throw new Refusal('removed-meanwhile');
        const result = toSelect(await tx.select.update({ where: { id: before.id }, data: { removedAt: new Date() } }));
        return { kind: 'select.removed', subject: result.id, rows: { selects: [result] }, result };
      }, theRow('selects'));
    },
  );

  app.post(
    '/api/films/:film/selects/:select/restore',
    { config: { permission: 'selects.edit' }, schema: { summary: 'Bring a removed select back', params: OneSelect, response: { 200: Select } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockSelect(tx, filmId, request.params.select);
        await liveClip(tx, filmId, before.clipId);
        const result = toSelect(await tx.select.update({ where: { id: before.id }, data: { removedAt: null } }));
        return { kind: 'select.restored', subject: result.id, rows: { selects: [result] }, result };
      }, theRow('selects'));
    },
  );
});
