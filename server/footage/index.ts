import { Type } from 'typebox';
import { Prisma, type Clip as ClipRow } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { enqueue } from '../platform/jobs.ts';
import { passing } from '../platform/passing.ts';
import { write } from '../platform/write.ts';
import { asideRoutes } from './aside.ts';
import { clockRoutes, clocksOf, holdClocks } from './clocks.ts';
import { Clip, ClipChange, ClipsChange, ClipsChanged, Proposal, Seen, SeenReport, type ClipFailure } from './contract.ts';
import { beforeOf, factColumns } from './facts.ts';
import { toClip } from './rows.ts';
import { checkRanges, checkRetry } from './rules.ts';
import { proposals } from './sorting.ts';
import { tableRoutes } from './table-routes.ts';
import { addSeen, listClips, lockClip, lockClips, setColumns } from './store.ts';

export { clocksOf, holdClocks } from './clocks.ts';
export { capturedOf, type ClockOf } from './facts.ts';
export { toClip } from './rows.ts';
export { cameraOf, dayOf } from './sorting.ts';
export { clipHasWord, wordsIn } from './table.ts';
export { listClips, lockClip, seenOf } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneClip = Type.Object({ film: Type.String(), clip: Type.String() });
/** Facts of twenty thousand clips. */
const MANY_BYTES = 8 * 1024 * 1024;
/** Postgres refuses a NOTIFY of 8000 bytes; who watched in so many pieces is read with the next snapshot instead. */
const ANNOUNCED_BYTES = 7000;

/** Clips: where and when they were shot, what became of their proxies, and what of them was watched. */
export const footage = guarded('footage', async (app: App) => {
  const { db } = app;

  app.get(
    '/api/films/:film/clips',
    { config: { permission: 'clips.read' }, schema: { summary: 'The clips of the film, without the removed ones', params: InFilm, response: { 200: Type.Array(Clip) } } },
    async (request) => listClips(db, memberOf(request).filmId),
  );

  app.patch(
    '/api/films/:film/clips/:clip',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Set camera, card, shoot day, location', params: OneClip, body: ClipChange, response: { 200: Clip } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockClip(tx, filmId, request.params.clip);
        if (before.removedAt) throw new Refusal('removed-meanwhile');
        await holdClocks(tx, filmId, { shared: true });
        return changed('clip.changed', await tx.clip.update({ where: { id: before.id }, data: factColumns(before, request.body, await clocksOf(tx, filmId)) }));
      });
    },
  );

  app.patch(
    '/api/films/:film/clips',
    {
      bodyLimit: MANY_BYTES,
      config: { permission: 'clips.edit' },
      schema: { summary: 'Set facts of many clips in one change', params: InFilm, body: ClipsChange, response: { 200: ClipsChanged } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      const changes = new Map(request.body.changes.map((change) => [change.id, change]));
      if (changes.size !== request.body.changes.length) throw new Refusal('bad-input', 'A clip stands among the changes twice.', { fields: [{ field: 'changes', why: 'names a clip twice' }] });
      return write(db, whoOf(request), filmId, async (tx) => {
        await holdClocks(tx, filmId, { shared: true });
        const clocks = await clocksOf(tx, filmId);
        const rows = await lockClips(tx, filmId, [...changes.keys()]);
        const gone = rows.find(({ removedAt }) => removedAt);
        if (gone) throw new Refusal('removed-meanwhile', `${gone.name} was removed in the meantime.`);
        const clips = await setColumns(
          tx,
          rows.map((row) => {
            const { id, ...change } = changes.get(row.id)!;
            return { id, data: factColumns(row, change, clocks) };
          }),
        );
        return { kind: 'clips.changed', subject: filmId, rows: { clips }, result: { clips: clips.length, previous: rows.map((row) => beforeOf(row, changes.get(row.id)!)) } };
      });
    },
  );

  app.get(
    '/api/films/:film/clips/sorting',
    { config: { permission: 'clips.read' }, schema: { summary: 'What would change if the clips were sorted by what they know themselves', params: InFilm, response: { 200: Type.Array(Proposal) } } },
    async (request) => proposals(await db.clip.findMany({ where: { filmId: memberOf(request).filmId, removedAt: null }, orderBy: { id: 'asc' } })),
  );

  clockRoutes(app);
  tableRoutes(app);
  asideRoutes(app);

  app.delete(
    '/api/films/:film/clips/:clip',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Take a clip out of the film; its file stays, and it can be restored', params: OneClip, response: { 200: Clip } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { id, removedAt } = await lockClip(tx, filmId, request.params.clip);
        return changed('clip.removed', await tx.clip.update({ where: { id }, data: { removedAt: removedAt ?? new Date() } }));
      });
    },
  );

  app.post(
    '/api/films/:film/clips/:clip/restore',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Bring a removed clip back', params: OneClip, response: { 200: Clip } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const clip = await lockClip(tx, filmId, request.params.clip);
        const again = await tx.clip.findFirst({ where: { filmId, xxh64: clip.xxh64, bytes: clip.bytes, removedAt: null, id: { not: clip.id } } });
        if (again) throw new Refusal('same-file', `The same file came in again as ${again.name}.`, { more: { clipId: again.id } });
        // While it was removed, the queue passed its proxy over.
        if (clip.state === 'received' || clip.state === 'working') await enqueue(app.jobs, tx, 'proxy', { clipId: clip.id });
        return changed('clip.restored', await tx.clip.update({ where: { id: clip.id }, data: { removedAt: null } }));
      });
    },
  );

  app.post(
    '/api/films/:film/clips/:clip/retry',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Make the proxy again after it failed', params: OneClip, response: { 200: Clip } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const clip = await lockClip(tx, filmId, request.params.clip);
        if (clip.removedAt) throw new Refusal('removed-meanwhile');
        checkRetry({ state: clip.state, failure: clip.failure as ClipFailure | null });
        await enqueue(app.jobs, tx, 'proxy', { clipId: clip.id });
        return changed('clip.retried', await tx.clip.update({ where: { id: clip.id }, data: { state: 'received', failure: Prisma.DbNull } }));
      });
    },
  );

  app.post(
    '/api/films/:film/clips/:clip/seen',
    {
      config: { permission: 'clips.read' },
      schema: { summary: 'Add what I watched; stretches in frames of the clip, half-open', params: OneClip, body: SeenReport, response: { 200: Seen } },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { ranges } = request.body;
      checkRanges(ranges);
      return db.$transaction(async (tx) => {
        const clip = await tx.clip.findFirst({ where: { id: request.params.clip, filmId, removedAt: null } });
        if (!clip) throw new Refusal('not-found');
        if (clip.frames === null) throw new Refusal('clip-not-ready');
        const seen = await addSeen(tx, clip.id, userId, clip.frames, ranges);
        if (JSON.stringify(seen.crew).length < ANNOUNCED_BYTES) await passing(tx, { to: 'seen', film: filmId, clipId: clip.id, userId, crew: seen.crew });
        return seen;
      });
    },
  );
});

function changed(kind: string, row: ClipRow) {
  const clip = toClip(row);
  return { kind, subject: clip.id, rows: { clips: [clip] }, result: clip };
}
