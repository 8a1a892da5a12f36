import { Type } from 'typebox';
import { guarded, type App } from '../platform/http.ts';
import { mayMakeFilms, memberOf, signedInOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import { write } from '../platform/write.ts';
import { Film, FilmChange, NewFilm } from './contract.ts';
import { toFilm } from './rows.ts';
import { checkFilmRate } from './rules.ts';
import { ROLES } from '../access/contract.ts';

export { toFilm } from './rows.ts';

/** Films: what is being made, at which rate, how long. */
export const films = guarded('films', async (app: App) => {
  const { db } = app;

  app.get(
    '/api/films',
    {
      config: { permission: 'signed-in' },
      schema: { summary: 'The films I am a member of', response: { 200: Type.Array(Type.Object({ film: Film, role: Type.Enum([...ROLES]) })) } },
    },
    async (request) => {
      const rows = await db.member.findMany({ where: { userId: signedInOf(request).id }, include: { film: true }, orderBy: { joinedAt: 'asc' } });
      return rows.map((row) => ({ film: toFilm(row.film), role: row.role }));
    },
  );

  app.post(
    '/api/films',
    { config: { permission: 'signed-in' }, schema: { summary: 'Start a film; who starts it is its director', body: NewFilm, response: { 201: Film } } },
    async (request, reply) => {
      const account = signedInOf(request);
      if (!(await mayMakeFilms(db, account))) throw new Refusal('not-allowed', 'Whoever started the server, and directors and editors, start films.');
      const { title, rate, dropFrame = false, targetFrames } = request.body;
      checkFilmRate(rate, dropFrame);
      const film = await db.film.create({
        data: { title, rateNum: rate.num, rateDen: rate.den, dropFrame, targetFrames, members: { create: { userId: account.id, role: 'director' } } },
      });
      return reply.status(201).send(toFilm(film));
    },
  );

  app.patch(
    '/api/films/:film',
    {
      config: { permission: 'film.edit' },
      schema: { summary: 'Change title, rate, running time, handles, or what the shape check asks for', params: Type.Object({ film: Type.String() }), body: FilmChange, response: { 200: Film } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      const { rate, dropFrame, ...plain } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
        checkFilmRate(rate ?? { num: before.rateNum, den: before.rateDen }, dropFrame ?? before.dropFrame);
        const row = await tx.film.update({
          where: { id: filmId },
          data: {
            ...given(plain),
            ...(rate === undefined ? {} : { rateNum: rate.num, rateDen: rate.den }),
            ...(dropFrame === undefined ? {} : { dropFrame }),
          },
        });
        const film = toFilm(row);
        return { kind: 'film.changed', subject: filmId, rows: { film: [film] }, result: film };
      });
    },
  );
});

/** The fields that were given, and no others. */
function given<T extends object>(change: T): { [F in keyof T]: Exclude<T[F], undefined> } {
  return Object.fromEntries(Object.entries(change).filter(([, value]) => value !== undefined)) as never;
}
