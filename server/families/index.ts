import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { toClip } from '../footage/index.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Alignment, FamiliesChange, FamiliesChanged, Rolling } from './contract.ts';
import { alignPair, timedOf, toFraction } from './pair.ts';
import { changeFamilies } from './store.ts';
import { mayRollTogether, offsetByTimecode } from './timecode.ts';

export { listFamilies } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneClip = Type.Object({ film: Type.String(), clip: Type.String() });
const TwoClips = Type.Object({ film: Type.String(), clip: Type.String(), other: Type.String() });
/** A day of a small crew; neighbours in time come first, so that what is left out is farthest away. */
const MOST_ROLLING = 60;

/** Families: clips that are takes of the same moment, and cameras that rolled at once. */
export const families = guarded('families', async (app: App) => {
  const { db } = app;

  const clipOf = async (filmId: string, id: string) => {
    const clip = await db.clip.findFirst({ where: { id, filmId, removedAt: null } });
    if (!clip) throw new Refusal('not-found', 'This film has no such clip.');
    return clip;
  };

  app.post(
    '/api/films/:film/families',
    { config: { permission: 'selects.edit' }, schema: { summary: 'Join and split: what families are to hold', params: InFilm, body: FamiliesChange, response: { 200: FamiliesChanged } } },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const result = await changeFamilies(tx, filmId, userId, request.body.changes);
        return { kind: 'families.changed', subject: result.families[0]!.id, rows: { families: result.families }, result };
      });
    },
  );

  app.get(
    '/api/films/:film/clips/:clip/rolling',
    { config: { permission: 'clips.read' }, schema: { summary: 'Clips of other cameras that may have rolled at the same time, nearest first', params: OneClip, response: { 200: Type.Array(Rolling) } } },
    async (request): Promise<Rolling[]> => {
      const { filmId } = memberOf(request);
      const clip = await clipOf(filmId, request.params.clip);
      const timed = timedOf(clip);
      if (!timed) throw new Refusal('clip-not-ready');
      const others = await db.clip.findMany({ where: { filmId, removedAt: null, shootDay: clip.shootDay, camera: { not: clip.camera }, frames: { not: null } } });
      const found = others.flatMap((row) => {
        const other = timedOf(row)!;
        const together = mayRollTogether(timed, other);
        // Where a camera noted no time, its timecode has to do; where it did, both have to fit.
        const offset = together || timed.capturedAt === null || other.capturedAt === null ? offsetByTimecode(timed, other) : null;
        if (!offset && !together) return [];
        const apart = offset?.seconds ?? (other.capturedAt! - timed.capturedAt!) / 1000;
        return [{ apart: Math.abs(apart), rolling: { clip: toClip(row), by: offset ? ('timecode' as const) : ('clock' as const), offset: offset && toFraction(offset) } }];
      });
      return found.toSorted((one, other) => one.apart - other.apart).slice(0, MOST_ROLLING).map(({ rolling }) => rolling);
    },
  );

  app.get(
    '/api/films/:film/clips/:clip/alignment/:other',
    { config: { permission: 'clips.read' }, schema: { summary: 'How another clip lies on this one, by timecode and by sound', params: TwoClips, response: { 200: Alignment } } },
    async (request, reply): Promise<Alignment> => {
      const { filmId } = memberOf(request);
      if (request.params.clip === request.params.other) throw new Refusal('bad-input', 'A clip lies on itself.', { fields: [{ field: 'other', why: 'is the same clip' }] });
      const [a, b] = await Promise.all([clipOf(filmId, request.params.clip), clipOf(filmId, request.params.other)]);
      const gone = new AbortController();
      reply.raw.once('close', () => reply.raw.writableFinished || gone.abort(new Error('Nobody waits for this any more.')));
      return alignPair(app.ground, a, b, gone.signal);
    },
  );
});
