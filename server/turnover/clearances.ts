import type { Clearance as ClearanceRow } from '#prisma';
import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import type { Rights } from '../music/contract.ts';
import type { Db, Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Clearance, ClearanceChange, NewClearance, RightsBook } from './contract.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneClearance = Type.Object({ film: Type.String(), clearance: Type.String() });
const config = { permission: 'clearances.edit' } as const;

// Checks of the database keep kind and state to their words.
const toClearance = ({ id, kind, name, state, words, removedAt }: ClearanceRow): Clearance => ({ id, kind: kind as Clearance['kind'], name, state: state as Rights, words, removedAt: removedAt?.toISOString() ?? null });

/** Permits and releases: who has to have allowed something, and where that is written. */
export function clearanceRoutes(app: App): void {
  const { db } = app;

  app.get('/api/films/:film/rights', { config: { permission: 'clearances.read' }, schema: { summary: 'What is recorded of music rights, location permits and releases', params: InFilm, response: { 200: RightsBook } } }, async (request) =>
    rightsBook(db, memberOf(request).filmId),
  );

  app.post('/api/films/:film/clearances', { config, schema: { summary: 'Record a location permit or a release', params: InFilm, body: NewClearance, response: { 201: Clearance } } }, async (request, reply) => {
    const { filmId, userId } = memberOf(request);
    const { kind, state, words = '' } = request.body;
    const name = request.body.name.trim();
    const made = await write(db, whoOf(request), filmId, async (tx) => {
      await checkFree(tx, filmId, { id: null, kind, name });
      const result = toClearance(await tx.clearance.create({ data: { filmId, kind, name, state, words, madeById: userId } }));
      return { kind: 'clearance.made', subject: result.id, rows: {}, result };
    });
    return reply.status(201).send(made);
  });

  app.patch('/api/films/:film/clearances/:clearance', { config, schema: { summary: 'Change a permit or a release', params: OneClearance, body: ClearanceChange, response: { 200: Clearance } } }, async (request) => {
    const { filmId } = memberOf(request);
    const { name, state, words } = request.body;
    return write(db, whoOf(request), filmId, async (tx) => {
      const before = await lockClearance(tx, filmId, request.params.clearance);
      if (before.removedAt) throw new Refusal('removed-meanwhile');
      if (name !== undefined) await checkFree(tx, filmId, { ...before, name: name.trim() });
      const data = { ...(name === undefined ? {} : { name: name.trim() }), ...(state === undefined ? {} : { state }), ...(words === undefined ? {} : { words }) };
      const result = toClearance(await tx.clearance.update({ where: { id: before.id }, data }));
      return { kind: 'clearance.changed', subject: result.id, rows: {}, result };
    });
  });

  app.delete('/api/films/:film/clearances/:clearance', { config, schema: { summary: 'Take a permit or a release off the list', params: OneClearance, response: { 200: Clearance } } }, async (request) => {
    const { filmId } = memberOf(request);
    return write(db, whoOf(request), filmId, async (tx) => {
      const before = await lockClearance(tx, filmId, request.params.clearance);
      if (before.removedAt) throw new Refusal('removed-meanwhile');
      const result = toClearance(await tx.clearance.update({ where: { id: before.id }, data: { removedAt: new Date() } }));
      return { kind: 'clearance.removed', subject: result.id, rows: {}, result };
    });
  });

  app.post('/api/films/:film/clearances/:clearance/restore', { config, schema: { summary: 'Put a permit or a release back on the list', params: OneClearance, response: { 200: Clearance } } }, async (request) => {
    const { filmId } = memberOf(request);
    return write(db, whoOf(request), filmId, async (tx) => {
      const before = await lockClearance(tx, filmId, request.params.clearance);
      await checkFree(tx, filmId, before);
      const result = toClearance(await tx.clearance.update({ where: { id: before.id }, data: { removedAt: null } }));
      return { kind: 'clearance.restored', subject: result.id, rows: {}, result };
    });
  });
}

async function lockClearance(tx: Tx, filmId: string, id: string): Promise<ClearanceRow> {
  await tx.$queryRaw`SELECT id FROM clearance WHERE id = ${id} AND film_id = ${filmId} FOR NO KEY UPDATE`;
  const row = await tx.clearance.findFirst({ where: { id, filmId } });
  if (!row) throw new Refusal('not-found', 'This film has no such permit or release.');
  return row;
}

/** One line a place and a person; nobody else writes one until the transaction ends. @throws Refusal `bad-input`. */
async function checkFree(tx: Tx, filmId: string, { id, kind, name }: { id: string | null; kind: string; name: string }): Promise<void> {
  await tx.$queryRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`clearances:${filmId}`}, 0))::text`;
  const [other] = await tx.$queryRaw<{ id: string }[]>`SELECT id FROM clearance WHERE film_id = ${filmId} AND kind = ${kind} AND lower(name) = lower(${name}) AND removed_at IS NULL AND id IS DISTINCT FROM ${id} LIMIT 1`;
  if (other) throw new Refusal('bad-input', `${name} is on the list already.`, { fields: [{ field: 'name', why: 'is on the list already' }] });
}

async function rightsBook(db: Db, filmId: string): Promise<RightsBook> {
  return db.$transaction(
    async (tx) => {
      const tracks = await tx.track.findMany({ where: { filmId, removedAt: null }, orderBy: [{ locked: 'desc' }, { receivedAt: 'asc' }, { id: 'asc' }] });
      const clearances = await tx.clearance.findMany({ where: { filmId, removedAt: null }, orderBy: [{ madeAt: 'asc' }, { id: 'asc' }] });
      const places = await tx.$queryRaw<RightsBook['places']>`
        SELECT location AS name, count(*)::int AS clips,
          count(*) FILTER (WHERE EXISTS (SELECT FROM offer JOIN item ON item.id = offer.slot_id AND item.removed_at IS NULL WHERE offer.clip_id = clip.id AND offer.verdict = 'approve' AND offer.removed_at IS NULL))::int AS plays
        FROM clip WHERE film_id = ${filmId} AND removed_at IS NULL AND location <> '' GROUP BY location ORDER BY location COLLATE "C"`;
      return {
        music: tracks.map(({ id, title, maker, licence, rights, locked }) => ({ trackId: id, title, maker, licence, rights: rights as Rights, locked })),
        clearances: clearances.map(toClearance),
        places,
      };
    },
    { isolationLevel: 'RepeatableRead' },
  );
}
