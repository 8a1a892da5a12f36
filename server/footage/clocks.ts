// The clocks of cameras: previewed, set, and taken back, each as one change of all clips of a camera.
import type { Clip as ClipRow } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Type } from 'typebox';
import { Clock, ClockChange, ClockPreview, type Clip, type Moment } from './contract.ts';
import { clockColumns, correctionBy, type ClockOf } from './facts.ts';
import { toClip } from './rows.ts';

const InFilm = Type.Object({ film: Type.String() });
const MILLION = 1_000_000;

/**
 * Until the transaction ends, nobody else sets a clock of the film; with `shared`, clips are measured meanwhile by others.
 * Without it a clip measured while a clock is set would go by the clock of before.
 */
export async function holdClocks(tx: Tx, filmId: string, { shared = false } = {}): Promise<void> {
  if (shared) await tx.$queryRaw`SELECT pg_advisory_xact_lock_shared(hashtextextended(${`clocks:${filmId}`}, 0))::text`;
  else await tx.$queryRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`clocks:${filmId}`}, 0))::text`;
}

/** The clocks of a film that were set, by camera. */
export async function clocksOf(tx: Tx | Db, filmId: string): Promise<Map<string, ClockOf>> {
  const rows = await tx.clock.findMany({ where: { filmId } });
  const clips = await clipsIn(tx, filmId, rows.flatMap(({ moments }) => moments as unknown as Moment[]));
  return new Map(rows.map(({ camera, moments, zone }) => [camera, { correction: correctionOrNone(moments as unknown as Moment[], clips, camera), zone }]));
}

/** A clip that a moment was seen in may have gone to another camera since; its clock then stays as the camera noted. */
function correctionOrNone(moments: readonly Moment[], clips: ReadonlyMap<string, ClipRow>, camera: string): ClockOf['correction'] {
  return moments.every(({ clipId }) => clips.get(clipId)?.camera === camera) ? correctionBy(moments, clips, camera) : null;
}

async function clipsIn(tx: Tx | Db, filmId: string, moments: readonly Moment[]): Promise<Map<string, ClipRow>> {
  const rows = await tx.clip.findMany({ where: { filmId, id: { in: moments.map(({ clipId }) => clipId) } } });
  return new Map(rows.map((row) => [row.id, row]));
}

/** Routes of clocks. */
export function clockRoutes(app: App): void {
  const { db } = app;
  const config = { permission: 'clips.edit' as const };

  app.get('/api/films/:film/clocks', { config: { permission: 'clips.read' }, schema: { summary: 'The clocks of cameras that were set right', params: InFilm, response: { 200: Type.Array(Clock) } } }, async (request) => {
    const { filmId } = memberOf(request);
    const rows = await db.clock.findMany({ where: { filmId }, orderBy: { camera: 'asc' } });
    return rows.map(({ camera, moments, zone }) => ({ camera, moments: moments as unknown as Moment[], zone }));
  });

  app.post(
    '/api/films/:film/clocks/preview',
    { config, schema: { summary: 'What setting a camera’s clock would change; nothing is written', params: InFilm, body: ClockChange, response: { 200: ClockPreview } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { camera, moments, zone } = request.body;
      const correction = correctionBy(moments, await clipsIn(db, filmId, moments), camera);
      const rows = await clipsOf(db, filmId, camera);
      return { ...wordsOf(correction), clips: rows.map((row) => previewOf(row, { correction, zone })) };
    },
  );

  app.put(
    '/api/films/:film/clocks',
    {
      config,
      schema: { summary: 'Set a camera’s clock: all its clips in one change. Without moments and zone: as the camera noted', params: InFilm, body: ClockChange, response: { 200: Type.Object({ previous: ClockChange, clips: Type.Integer() }) } },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { camera, moments, zone } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        await holdClocks(tx, filmId);
        const correction = correctionBy(moments, await clipsIn(tx, filmId, moments), camera);
        const key = { filmId_camera: { filmId, camera } };
        const before = await tx.clock.findUnique({ where: key });
        if (moments.length === 0 && zone === null) await tx.clock.deleteMany({ where: { filmId, camera } });
        else await tx.clock.upsert({ where: key, create: { filmId, camera, moments, zone, setById: userId }, update: { moments, zone, setById: userId, setAt: new Date() } });
        const clips = await setTimes(tx, await clipsOf(tx, filmId, camera, { lock: true }), { correction, zone });
        const previous = { camera, moments: (before?.moments ?? []) as unknown as Moment[], zone: before?.zone ?? null };
        return { kind: 'clock.set', subject: camera, rows: { clips }, result: { previous, clips: clips.length } };
      });
    },
  );
}

/** Clips of a camera that know when they were captured, removed ones too: they may come back. */
async function clipsOf(tx: Tx | Db, filmId: string, camera: string, { lock = false } = {}): Promise<ClipRow[]> {
  if (lock) await tx.$queryRaw`SELECT id FROM clip WHERE film_id = ${filmId} AND camera = ${camera} ORDER BY id FOR UPDATE`;
  return tx.clip.findMany({ where: { filmId, camera, notedAt: { not: null } }, orderBy: [{ notedAt: 'asc' }, { id: 'asc' }] });
}

/** Times of thousands of clips in one statement. */
async function setTimes(tx: Tx, rows: readonly ClipRow[], clock: ClockOf): Promise<Clip[]> {
  const times = rows.map((row) => {
    const { capturedAt, capturedZone, shootDay = row.shootDay } = clockColumns(row, clock);
    return { id: row.id, at: capturedAt, zone: capturedZone, day: shootDay };
  });
  await tx.$executeRaw`
    UPDATE clip SET captured_at = one.at, captured_zone = one.zone, shoot_day = one.day
    FROM jsonb_to_recordset(${JSON.stringify(times)}::jsonb) AS one(id text, at timestamptz, zone int, day date) WHERE clip.id = one.id`;
  return (await tx.clip.findMany({ where: { id: { in: rows.map(({ id }) => id) } }, orderBy: { id: 'asc' } })).map(toClip);
}

function wordsOf(correction: ClockOf['correction']): { offsetMs: number; driftPpm: number } {
  return { offsetMs: correction?.offsetMs ?? 0, driftPpm: Math.round((correction?.drift ?? 0) * MILLION * 100) / 100 };
}

function previewOf(row: ClipRow, clock: ClockOf) {
  const after = clockColumns(row, clock);
  const day = (at: Date | null | undefined) => at?.toISOString().slice(0, 10) ?? null;
  return {
    id: row.id,
    name: row.name,
    before: row.capturedAt!.toISOString(),
    after: after.capturedAt!.toISOString(),
    zoneBefore: row.capturedZone,
    zone: after.capturedZone,
    dayBefore: day(row.shootDay),
    dayAfter: day(after.shootDay ?? row.shootDay),
    dayByHand: row.byHand.includes('shootDay'),
  };
}
