import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Db } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { Who } from '../platform/write.ts';
import type { Auth } from './auth.ts';
import { ownOrigins } from './auth.ts';
import type { Action } from './contract.ts';
import { askerOf, prolong, type Account, type Membership } from './session.ts';

/** What a route asks for: an action in the film it is under, an account, or nothing. */
export type Permission = Action | 'signed-in' | 'anyone';

declare module 'fastify' {
  interface FastifyContextConfig {
    permission?: Permission;
  }
  interface FastifyInstance {
    /** Every route there is and what it asks for, for the test that tries them all. */
    routes: readonly { method: string; url: string; permission: Permission }[];
  }
  interface FastifyRequest {
    account: Account | null;
    membership: Membership | null;
    /** Tells the page the number of the event that its change became. */
    wrote: ((seq: number) => void) | null;
  }
}

/** Who may start a film: the keeper of the server, and anyone who directs or edits one here. */
export async function mayMakeFilms(db: Db, account: { id: string; keeper: boolean }): Promise<boolean> {
  return account.keeper || (await db.member.count({ where: { userId: account.id, role: { in: ['director', 'editor'] } } })) > 0;
}

/** Checks every request against what its route asks for; a route that asks for nothing does not start. */
export function guard(app: FastifyInstance, { auth, db, publicUrl }: { auth: Auth; db: Db; publicUrl: string | null }): void {
  app.decorateRequest('account', null);
  app.decorateRequest('membership', null);
  app.decorateRequest('wrote', null);

  const routes: { method: string; url: string; permission: Permission }[] = [];
  app.decorate('routes', routes);
  app.addHook('onRoute', (route) => {
    // The pages of the API's documentation are a plugin's own.
    if (route.url.startsWith('/api/docs')) route.config = { ...route.config, permission: 'anyone' };
    const permission = route.config?.permission;
    if (!permission) throw new Error(`Route ${String(route.method)} ${route.url} names no permission.`);
    // What a route offers is told openly: a tus client asks before it has anything to show (protocol.md, "OPTIONS").
    const inFilm = route.url.startsWith('/api/films/:film') && route.method !== 'OPTIONS';
    if (inFilm !== permission.includes('.')) throw new Error(`Route ${route.url}: permission ${permission} does not fit its address.`);
    for (const method of [route.method].flat()) routes.push({ method, url: route.url, permission });
  });

  app.addHook('onRequest', async (request, reply) => {
    const permission = request.routeOptions.config.permission ?? 'anyone';
    refuseForeignOrigin(request, publicUrl);
    if (permission === 'anyone') return;
    const { film = null } = request.params as { film?: string };
    const asker = await askerOf({ auth, db }, request, film);
    if (!asker) throw new Refusal('not-signed-in');
    request.account = asker.account;
    if (asker.due) for (const cookie of await prolong(auth, request)) reply.header('set-cookie', cookie);
    if (permission === 'signed-in') return;
    request.membership = asker.membership;
    request.wrote = (seq) => void reply.header('x-rushlight-event', seq);
    // A film one is no member of answers like one that does not exist.
    if (!request.membership) throw new Refusal('not-found');
    if (!request.membership.can.has(permission)) throw new Refusal('not-allowed');
  });
}

/** Cookies are SameSite=Lax; a browser that states another origin is refused besides. */
function refuseForeignOrigin(request: FastifyRequest, publicUrl: string | null): void {
  const origin = request.headers.origin;
  if (!origin || request.method === 'GET' || request.method === 'HEAD' || request.method === 'OPTIONS') return;
  if (!isOwnOrigin(origin, request.headers.host, publicUrl)) throw new Refusal('foreign-origin');
}

/** Whether a page of this origin is a page of this server. */
export function isOwnOrigin(origin: string, host: string | undefined, publicUrl: string | null): boolean {
  return (publicUrl ? [publicUrl, ...ownOrigins(host)] : ownOrigins(host)).includes(origin);
}

/** The member who asks; only behind a route whose permission is an action. */
export function memberOf(request: FastifyRequest): Membership {
  if (!request.membership) throw new Refusal('not-allowed');
  return request.membership;
}

/** The account that asks; only behind a route that asks for one. */
export function signedInOf(request: FastifyRequest): Account {
  if (!request.account) throw new Refusal('not-signed-in');
  return request.account;
}

/** Actor and tab for the event of a change, and what the page calls it. */
export function whoOf(request: FastifyRequest): Who {
  const said = (header: string): string | null => {
    const text = request.headers[header];
    return typeof text === 'string' ? text.slice(0, 64) : null;
  };
  const { wrote } = request;
  return { userId: request.account?.id ?? null, client: said('x-rushlight-client'), change: said('x-rushlight-change'), ...(wrote && { wrote }) };
}
