import type { FastifyReply, FastifyRequest } from 'fastify';
import { guarded, type App } from '../platform/http.ts';
import { accountRoutes } from './accounts.ts';
import { crewRoutes } from './crew.ts';
import { webHeaders } from './session.ts';

export { guard, isOwnOrigin, mayMakeFilms, memberOf, signedInOf, whoOf } from './guard.ts';
export { askerOf, membershipOf, type Membership } from './session.ts';
export { actionsOf } from './roles.ts';
export { createAccount, makeAuth, openSession, type Auth } from './auth.ts';
export { listMembers } from './rows.ts';

/** Accounts, sessions, invitations, and what a role may do. The guard itself is set up in app.ts, before any route. */
export const access = guarded('access', async (app: App) => {
  accountRoutes(app);
  crewRoutes(app);

  // better-auth speaks the Web API's Request and Response.
  app.route({
    method: ['GET', 'POST'],
    url: '/api/auth/*',
    config: { permission: 'anyone' },
    schema: { summary: 'Sign in and out, change the password (better-auth)', hide: true },
    handler: async (request: FastifyRequest, reply: FastifyReply) => {
      const url = new URL(request.url, `${request.protocol}://${request.headers.host ?? 'localhost'}`);
      const headers = webHeaders(request);
      headers.set('x-forwarded-for', request.ip);
      const body = request.method === 'POST' ? JSON.stringify(request.body ?? {}) : null;
      if (body !== null) headers.delete('content-length');
      const answer = await app.auth.handler(new Request(url, { method: request.method, headers, body }));
      reply.status(answer.status);
      answer.headers.forEach((value, name) => {
        if (name !== 'set-cookie') reply.header(name, value);
      });
      for (const cookie of answer.headers.getSetCookie()) reply.header('set-cookie', cookie);
      return reply.send(answer.body ? Buffer.from(await answer.arrayBuffer()) : null);
    },
  });
});
