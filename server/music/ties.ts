import { Type } from 'typebox';
import type { Tie as TieRow } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { NewTie, Tie } from './contract.ts';
import { toTie } from './rows.ts';
import { liveItem, liveMark } from './store.ts';

// A tie says where a line of the outline begins, so it asks for what the outline asks for.
const config = { permission: 'outline.edit' } as const;

/** Ties: the start of a part or slot bound to a mark of the locked track. */
export function tieRoutes(app: App): void {
  const { db } = app;

  app.put(
    '/api/films/:film/items/:item/tie',
    { config, schema: { summary: 'Tie the start of a line to a mark, instead of the tie it had', params: Type.Object({ film: Type.String(), item: Type.String() }), body: NewTie, response: { 200: Tie } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { markId, instead } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const item = await liveItem(tx, filmId, request.params.item);
        const mark = await liveMark(tx, filmId, markId);
        if (!mark.track.locked) throw new Refusal('track-not-locked');
        const before = await tx.tie.findFirst({ where: { itemId: item.id, removedAt: null } });
        if ((before?.id ?? null) !== instead) throw meanwhile(before);
        const untied = before ? [await tx.tie.update({ where: { id: before.id }, data: { removedAt: new Date() } })] : [];
        const tie = await tx.tie.create({ data: { filmId, itemId: item.id, markId: mark.id, madeById: userId } });
        const result = toTie(tie);
        return { kind: 'tie.made', subject: result.id, rows: { ties: [...untied.map(toTie), result] }, result };
      });
    },
  );

  app.delete(
    '/api/films/:film/ties/:tie',
    { config, schema: { summary: 'Untie a line', params: Type.Object({ film: Type.String(), tie: Type.String() }), response: { 200: Tie } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const found = await tx.tie.findFirst({ where: { id: request.params.tie, filmId } });
        if (!found) throw new Refusal('not-found', 'This film has no such tie.');
        await liveItem(tx, filmId, found.itemId);
        const before = await tx.tie.findFirst({ where: { itemId: found.itemId, removedAt: null } });
        if (before?.id !== found.id) throw meanwhile(before);
        const result = toTie(await tx.tie.update({ where: { id: found.id }, data: { removedAt: new Date() } }));
        return { kind: 'tie.removed', subject: result.id, rows: { ties: [result] }, result };
      });
    },
  );
}

const meanwhile = (now: TieRow | null): Refusal =>
  new Refusal('tied-meanwhile', now ? 'Somebody tied this line to another mark. Look again, and decide again if you still want to.' : 'Somebody untied this line. Look again, and decide again if you still want to.', {
    more: { ties: now ? [toTie(now)] : [] },
  });
