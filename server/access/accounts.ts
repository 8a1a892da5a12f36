import { Type } from 'typebox';
import type { FastifyReply } from 'fastify';
import type { App } from '../platform/http.ts';
import { Refusal } from '../platform/errors.ts';
import { createAccount } from './auth.ts';
import { Me, NewAccount } from './contract.ts';
import { mayMakeFilms, signedInOf } from './guard.ts';

const Bindings = Type.Record(Type.String(), Type.Unknown(), { maxProperties: 100 });
const BINDINGS_BYTES = 100_000;

/** The first account, and one's own. */
export function accountRoutes(app: App): void {
  const { db, auth } = app;
  // The invented people of the demo have accounts that nobody can sign in to, so they do not count.
  const firstAccountMade = async () => (await db.account.count()) > 0;

  app.get(
    '/api/welcome',
    { config: { permission: 'anyone' }, schema: { summary: 'Whether the first account is still to be made', response: { 200: Type.Object({ firstAccount: Type.Boolean() }) } } },
    async () => ({ firstAccount: !(await firstAccountMade()) }),
  );

  app.post(
    '/api/first-account',
    { config: { permission: 'anyone' }, schema: { summary: 'Make the first account: it keeps the server', body: NewAccount, response: { 201: Me } } },
    async (request, reply) => {
      if (await firstAccountMade()) throw new Refusal('first-account-exists');
      const id = await createAccount(auth, request.body);
      // The unique index on the one keeper decides between two who ask at once.
      const kept = await db.user.update({ where: { id }, data: { keeper: true } }).catch(async () => {
        await db.user.delete({ where: { id } });
        throw new Refusal('first-account-exists');
      });
      // Who keeps the server may look at the invented film, when there is one, and try everything.
      const invented = await db.film.findMany({ where: { invented: true } });
      await db.member.createMany({ data: invented.map((film) => ({ filmId: film.id, userId: id, role: 'director' as const })) });
      await signIn(app, reply, request.body);
      return reply.status(201).send({ id, name: kept.name, email: kept.email, keeper: true, mayMakeFilms: true });
    },
  );

  app.get('/api/me', { config: { permission: 'signed-in' }, schema: { summary: 'My account', response: { 200: Me } } }, async (request) => {
    const account = signedInOf(request);
    return { ...account, mayMakeFilms: await mayMakeFilms(db, account) };
  });

  app.get('/api/me/bindings', { config: { permission: 'signed-in' }, schema: { summary: 'Which control does what, for me', response: { 200: Bindings } } }, async (request) => {
    const { bindings } = await db.user.findUniqueOrThrow({ where: { id: signedInOf(request).id }, select: { bindings: true } });
    return bindings as Record<string, unknown>;
  });

  app.put(
    '/api/me/bindings',
    { config: { permission: 'signed-in' }, bodyLimit: BINDINGS_BYTES, schema: { summary: 'Keep which control does what, for me', body: Bindings, response: { 200: Bindings } } },
    async (request) => {
      const bindings = request.body;
      await db.user.update({ where: { id: signedInOf(request).id }, data: { bindings: bindings as object } });
      return bindings;
    },
  );
}

/** Sets the session cookie of an account just made. */
export async function signIn(app: App, reply: FastifyReply, { email, password }: { email: string; password: string }): Promise<void> {
  const answer = await app.auth.api.signInEmail({ body: { email, password }, asResponse: true });
  for (const cookie of answer.headers.getSetCookie()) reply.header('set-cookie', cookie);
}
