// Who asks. A session is: none (no cookie, a wrong signature, signed out) | alive | due (to be prolonged) | over.
// Finding out takes one statement, the membership with it; prolonging and removing are left to better-auth.
import { createHmac } from 'node:crypto';
import { parseCookies } from 'better-auth/cookies';
import { constantTimeEqual } from 'better-auth/crypto';
import type { FastifyRequest } from 'fastify';
import type { Db } from '../platform/db.ts';
import type { Auth } from './auth.ts';
import type { Action, Role } from './contract.ts';
import { actionsOf } from './roles.ts';

export interface Account {
  id: string;
  name: string;
  email: string;
  keeper: boolean;
}

export interface Membership {
  filmId: string;
  userId: string;
  role: Role;
  mayComment: boolean;
  can: ReadonlySet<Action>;
}

export interface Asker {
  account: Account;
  /** What the account is in the film asked about; null for no film, or none it is a member of. */
  membership: Membership | null;
  /** The session has lasted long enough to be prolonged, where an answer can carry the new cookie. */
  due: boolean;
}

/** The request's headers as the Web API has them. */
export function webHeaders(request: { headers: FastifyRequest['headers'] }): Headers {
  const headers = new Headers();
  for (const [name, value] of Object.entries(request.headers)) if (value !== undefined) headers.append(name, String(value));
  return headers;
}

/**
 * The signature of a session's cookie as better-auth makes it: HMAC-SHA256, base64. Node's own, because the one of
 * better-auth takes a turn through the thread pool, which a request waits for.
 */
export function signatureOf(token: string, secret: string): string {
  return createHmac('sha256', secret).update(token).digest('base64');
}

/**
 * The account behind a request and its membership of a film.
 * @returns null when nobody is signed in.
 */
export async function askerOf({ auth, db }: { auth: Auth; db: Db }, request: { headers: FastifyRequest['headers'] }, filmId: string | null): Promise<Asker | null> {
  const { authCookies, internalAdapter, secret, sessionConfig } = await auth.$context;
  const token = signedToken(request.headers.cookie, authCookies.sessionToken.name, secret);
  if (token === null) return null;
  const [row] = await db.$queryRaw<(Account & { expiresAt: Date; role: Role | null; mayComment: boolean | null })[]>`
    SELECT u.id, u.name, u.email, u.keeper, s.expires_at AS "expiresAt", m.role::text AS role, m.may_comment AS "mayComment"
    FROM session s JOIN "user" u ON u.id = s.user_id LEFT JOIN member m ON m.user_id = u.id AND m.film_id = ${filmId}
    WHERE s.token = ${token}`;
  if (!row) return null;
  const { expiresAt, role, mayComment, ...account } = row;
  const left = (expiresAt.getTime() - Date.now()) / 1000;
  if (left <= 0) {
    await internalAdapter.deleteSession(token);
    return null;
  }
  return {
    account,
    membership: filmId !== null && role !== null ? membership(filmId, account.id, role, mayComment ?? false) : null,
    due: left <= sessionConfig.expiresIn - sessionConfig.updateAge,
  };
}

/** Prolongs a session that is due. @returns the `Set-Cookie` headers that tell the browser. */
export async function prolong(auth: Auth, request: { headers: FastifyRequest['headers'] }): Promise<string[]> {
  const { headers } = await auth.api.getSession({ headers: webHeaders(request), returnHeaders: true });
  return headers.getSetCookie();
}

/** What a person is in a film, or null. */
export async function membershipOf(db: Db, filmId: string, userId: string): Promise<Membership | null> {
  const row = await db.member.findUnique({ where: { filmId_userId: { filmId, userId } } });
  return row && membership(filmId, userId, row.role, row.mayComment);
}

function membership(filmId: string, userId: string, role: Role, mayComment: boolean): Membership {
  return { filmId, userId, role, mayComment, can: new Set(actionsOf(role, mayComment)) };
}

/** The token in a Cookie header, when the signature behind it is this server's. */
function signedToken(header: string | undefined, name: string, secret: string): string | null {
  const value = header && parseCookies(header).get(name);
  if (!value) return null;
  const point = value.lastIndexOf('.');
  const token = value.slice(0, Math.max(point, 0));
  return token && constantTimeEqual(value.slice(point + 1), signatureOf(token, secret)) ? token : null;
}
