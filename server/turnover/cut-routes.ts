import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { toOffer } from '../offers/index.ts';
import type { App } from '../platform/http.ts';
import { Refusal } from '../platform/errors.ts';
import { write } from '../platform/write.ts';
import { CutGiven, CutInChange, CutRead } from './contract.ts';
import { readCut } from './read/index.ts';
import { compareCut } from './read/compare.ts';
import { CUT_CHARACTERS } from './read/cut.ts';
import { readInput } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const config = { permission: 'turnover.make' } as const;

/** Back from the cutting room: a later cut is read and compared, and what is in it is marked. */
export function cutRoutes(app: App): void {
  const { db } = app;

  app.post(
    '/api/films/:film/turnover/cut',
    {
      // Text grows when it is sent inside of JSON.
      bodyLimit: 2 * CUT_CHARACTERS,
      config,
      schema: { summary: 'Read a later cut and say per slot what became of it', description: 'One .otio, or edit lists of one picture track at the rate of the film. Nothing is changed, and nothing is kept.', params: InFilm, body: CutGiven, response: { 200: CutRead } },
    },
    async (request) => {
      const input = await readInput(db, memberOf(request).filmId);
      return compareCut(input, readCut(request.body.files, input.film));
    },
  );

  app.post(
    '/api/films/:film/turnover/cut-in',
    { config, schema: { summary: 'Mark offers as cut in, and others as no longer', description: 'Answers those that changed, which undoes it turned round.', params: InFilm, body: CutInChange, response: { 200: CutInChange } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const { set, clear } = request.body;
      const both = set.find((id) => clear.includes(id));
      if (both) throw new Refusal('bad-input', 'One offer is in the cut and not in it at once.', { fields: [{ field: 'clear', why: `names ${both}, as set does` }] });
      return write(db, whoOf(request), filmId, async (tx) => {
        const named = { filmId, id: { in: [...set, ...clear] } };
        const there = await tx.offer.findMany({ where: named, select: { id: true, slotId: true } });
        if (there.length !== set.length + clear.length) throw new Refusal('not-found', 'Some of these offers are not of this film.');
        // Slots are locked before their offers, always.
        await tx.$queryRaw`SELECT id FROM item WHERE id = ANY(${there.map(({ slotId }) => slotId)}) ORDER BY id FOR NO KEY UPDATE`;
        const inCut = await tx.offer.updateManyAndReturn({ where: { filmId, id: { in: set }, cutInAt: null }, data: { cutInAt: new Date() } });
        const out = await tx.offer.updateManyAndReturn({ where: { filmId, id: { in: clear }, cutInAt: { not: null } }, data: { cutInAt: null } });
        return { kind: 'offers.cut-in', subject: filmId, rows: { offers: [...inCut, ...out].map(toOffer) }, result: { set: inCut.map(({ id }) => id), clear: out.map(({ id }) => id) } };
      });
    },
  );
}
