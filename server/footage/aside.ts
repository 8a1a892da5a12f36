import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { theRow, write } from '../platform/write.ts';
import { AsideReason, Clip } from './contract.ts';
import { toClip } from './rows.ts';
import { lockClip } from './store.ts';

const OneClip = Type.Object({ film: Type.String(), clip: Type.String() });

/** Clips with nothing usable in them are put aside: seen, and not to be looked at again. Who cuts selects says so. */
export function asideRoutes(app: App): void {
  const { db } = app;
  const permission = { config: { permission: 'selects.edit' } } as const;

  app.put(
    '/api/films/:film/clips/:clip/aside',
    { ...permission, schema: { summary: 'Put a clip aside, or say another reason', params: OneClip, body: Type.Object({ reason: AsideReason }, { additionalProperties: false }), response: { 200: Clip } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { id, removedAt } = await lockClip(tx, filmId, request.params.clip);
        if (removedAt) throw new Refusal('removed-meanwhile');
        const clip = toClip(await tx.clip.update({ where: { id }, data: { asideReason: request.body.reason, asideById: userId, asideAt: new Date() } }));
        return { kind: 'clip.put-aside', subject: id, rows: { clips: [clip] }, result: clip };
      }, theRow('clips'));
    },
  );

  app.delete(
    '/api/films/:film/clips/:clip/aside',
    { ...permission, schema: { summary: 'Take a clip back that was put aside', params: OneClip, response: { 200: Clip } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { id } = await lockClip(tx, filmId, request.params.clip);
        const clip = toClip(await tx.clip.update({ where: { id }, data: { asideReason: null, asideById: null, asideAt: null } }));
        return { kind: 'clip.taken-back', subject: id, rows: { clips: [clip] }, result: clip };
      }, theRow('clips'));
    },
  );
}
