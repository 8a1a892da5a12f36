import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Mark, MarkEdit, MarksChange, MarksChanged } from './contract.ts';
import { toMark } from './rows.ts';
import { checkInTrack } from './rules.ts';
import { changeMarks, heardTrack, liveMark } from './store.ts';

const config = { permission: 'music.edit' } as const;

/** Marks by hand: in sets (tapped, doubled, taken away, brought back), and one by one. */
export function markRoutes(app: App): void {
  const { db } = app;

  app.post(
    '/api/films/:film/tracks/:track/marks',
    {
      config,
      schema: { summary: 'Take marks away, bring some back, add others, in one step', params: Type.Object({ film: Type.String(), track: Type.String() }), body: MarksChange, response: { 200: MarksChanged } },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const track = await heardTrack(tx, filmId, request.params.track);
        const result = await changeMarks(tx, userId, track, request.body);
        return { kind: 'marks.changed', subject: track.id, rows: { marks: [...result.removed, ...result.restored, ...result.added], ties: result.ties }, result };
      });
    },
  );

  app.patch(
    '/api/films/:film/marks/:mark',
    {
      config,
      schema: { summary: 'Move, stretch, name a mark or say what it is; one of the analysis becomes that person’s', params: Type.Object({ film: Type.String(), mark: Type.String() }), body: MarkEdit, response: { 200: Mark } },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { kind, atMs, untilMs, name } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await liveMark(tx, filmId, request.params.mark);
        checkInTrack({ atMs: atMs ?? before.atMs, untilMs: untilMs === undefined ? before.untilMs : untilMs }, before.track.lengthMs ?? 0);
        const result = toMark(
          await tx.mark.update({
            where: { id: before.id },
            data: {
              ...(kind === undefined ? {} : { kind }),
              ...(atMs === undefined ? {} : { atMs }),
              ...(untilMs === undefined ? {} : { untilMs }),
              ...(name === undefined ? {} : { name: name.trim() }),
              // A person vouches for it now, so what the analysis thought of it says nothing any more.
              byId: userId,
              confidence: null,
            },
          }),
        );
        return { kind: 'mark.changed', subject: result.id, rows: { marks: [result] }, result };
      });
    },
  );
}
