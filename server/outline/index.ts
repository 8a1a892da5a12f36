import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { guarded, type App } from '../platform/http.ts';
import { theRow, write } from '../platform/write.ts';
import { Film } from '../films/contract.ts';
import type { Rows } from '../live/contract.ts';
import { Item, ItemChange, NewItem, NewRemoval, Paste, Pasted, Place, Removal, RemarkChange } from './contract.ts';
import { fitRoutes } from './fit-routes.ts';
import { historyRoutes } from './history-routes.ts';
import { pasteLines } from './paste.ts';
import { dismissRemark } from './remarks.ts';
import { changeItem, makeItem, moveItem, removeItems, undoRemoval } from './store.ts';

export { listItems } from './store.ts';
export { toItem } from './rows.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneItem = Type.Object({ film: Type.String(), item: Type.String() });
const config = { permission: 'outline.edit' } as const;
/** Five thousand lines with notes. */
const PASTE_BYTES = 16 * 1024 * 1024;

const theItem = theRow('items');
/** What a removal was answered with the first time: its event holds the same rows. */
const theRemoval = (rows: Rows): Removal => ({ removalId: theItem(rows).removalId ?? '', items: rows.items ?? [] });

/** The outline: the film's shape, as parts and slots in one ordered tree. */
export const outline = guarded('outline', async (app: App) => {
  const { db } = app;
  await historyRoutes(app);
  fitRoutes(app);

  app.post(
    '/api/films/:film/items',
    { config, schema: { summary: 'Put a part or a slot into the outline', params: InFilm, body: NewItem, response: { 201: Item } } },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      const item = await write(db, whoOf(request), filmId, async (tx) => {
        const result = await makeItem(tx, filmId, request.body);
        return { kind: 'item.made', subject: result.id, rows: { items: [result] }, result };
      }, theItem);
      return reply.status(201).send(item);
    },
  );

  app.patch(
    '/api/films/:film/items/:item',
    { config, schema: { summary: 'Change what is written on a line', params: OneItem, body: ItemChange, response: { 200: Item } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await changeItem(tx, filmId, request.params.item, request.body);
        return { kind: 'item.changed', subject: result.id, rows: { items: [result] }, result };
      }, theItem);
    },
  );

  app.post(
    '/api/films/:film/items/:item/move',
    { config, schema: { summary: 'Move a line, with everything in it', params: OneItem, body: Place, response: { 200: Item } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await moveItem(tx, filmId, request.params.item, request.body);
        return { kind: 'item.moved', subject: result.id, rows: { items: [result] }, result };
      }, theItem);
    },
  );

  app.delete(
    '/api/films/:film/items/:item',
    { config, schema: { summary: 'Take a line away, with everything in it', params: OneItem, response: { 200: Removal } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { item } = request.params;
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await removeItems(tx, filmId, { items: [item] });
        return { kind: 'item.removed', subject: item, rows: { items: result.items }, result };
      });
    },
  );

  app.put(
    '/api/films/:film/remarks',
    { config, schema: { summary: 'Put a remark of the shape check away, or bring it back', params: InFilm, body: RemarkChange, response: { 200: Film } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await dismissRemark(tx, filmId, request.body);
        return { kind: 'film.changed', subject: filmId, rows: { film: [result] }, result };
      });
    },
  );

  app.post(
    '/api/films/:film/items/paste',
    { config, bodyLimit: PASTE_BYTES, schema: { summary: 'Put a whole tree of lines into the outline, as one change', params: InFilm, body: Paste, response: { 201: Pasted } } },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      const items = await write(db, whoOf(request), filmId, async (tx) => {
        const result = await pasteLines(tx, filmId, request.body);
        return { kind: 'item.pasted', subject: result[0]!.id, rows: { items: result }, result };
      });
      return reply.status(201).send({ items });
    },
  );

  app.post(
    '/api/films/:film/removals',
    { config, bodyLimit: PASTE_BYTES, schema: { summary: 'Take several lines away, with everything in them, as one removal', params: InFilm, body: NewRemoval, response: { 201: Removal } } },
    async (request, reply) => {
      const { filmId } = memberOf(request);
      const removal = await write(db, whoOf(request), filmId, async (tx) => {
        const result = await removeItems(tx, filmId, request.body);
        return { kind: 'item.removed', subject: request.body.items[0]!, rows: { items: result.items }, result };
      }, theRemoval);
      return reply.status(201).send(removal);
    },
  );

  app.post(
    '/api/films/:film/removals/:removal/undo',
    {
      config,
      schema: { summary: 'Bring back what a removal took away', params: Type.Object({ film: Type.String(), removal: Type.String() }), response: { 200: Removal } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      const { removal } = request.params;
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await undoRemoval(tx, filmId, removal);
        return { kind: 'item.restored', subject: removal, rows: { items: result.items }, result };
      }, ({ items = [] }) => ({ removalId: removal, items }));
    },
  );
});
