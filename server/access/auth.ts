import { betterAuth } from 'better-auth';
import { prismaAdapter } from 'better-auth/adapters/prisma';
import type { Config } from '../platform/config.ts';
import type { Db } from '../platform/db.ts';
import { signatureOf } from './session.ts';

export type Auth = ReturnType<typeof makeAuth>;

/** Accounts, sessions and passwords. Nobody signs up by themselves: accounts come from the first visit or an invitation. */
export function makeAuth(db: Db, config: Config) {
  return betterAuth({
    appName: 'Rushlight',
    basePath: '/api/auth',
    ...(config.publicUrl ? { baseURL: config.publicUrl } : {}),
    secret: config.authSecret,
    database: prismaAdapter(db, { provider: 'postgresql' }),
    trustedOrigins: (request) => (config.publicUrl ? [config.publicUrl] : request ? ownOrigins(request.headers.get('host')) : []),
    emailAndPassword: { enabled: true, disableSignUp: true, minPasswordLength: 8, maxPasswordLength: 128 },
    user: { additionalFields: { keeper: { type: 'boolean', required: false, input: false } } },
    session: { expiresIn: 60 * 60 * 24 * 30, updateAge: 60 * 60 * 24 },
    rateLimit: { enabled: true, window: 60, max: 100, customRules: { '/sign-in/email': { window: 60, max: 20 } } },
    advanced: {
      cookiePrefix: 'rushlight',
      useSecureCookies: config.publicUrl?.startsWith('https:') ?? false,
      defaultCookieAttributes: { sameSite: 'lax', httpOnly: true },
    },
    telemetry: { enabled: false },
    logger: { disabled: true },
  });
}

/** The origins a page of this very server can have, given the Host header it was asked under. */
export function ownOrigins(host: string | null | undefined): string[] {
  return host ? [`http://${host}`, `https://${host}`] : [];
}

/** Makes an account with a password, whatever the sign-up setting. The caller checks who may. */
export async function createAccount(auth: Auth, account: { name: string; email: string; password: string; keeper?: boolean }): Promise<string> {
  const context = await auth.$context;
  const hash = await context.password.hash(account.password);
  const user = await context.internalAdapter.createUser({ name: account.name, email: account.email.toLowerCase(), emailVerified: false }, { method: 'email-password' });
  await context.internalAdapter.linkAccount({ userId: user.id, providerId: 'credential', accountId: user.id, password: hash });
  return user.id;
}

/**
 * A session without a password, for people the server itself speaks for (the invented crew, tests).
 * @returns a Cookie header in better-auth's signed form: token, point, signature.
 */
export async function openSession(auth: Auth, userId: string): Promise<string> {
  const context = await auth.$context;
  const { token } = await context.internalAdapter.createSession(userId);
  return `${context.authCookies.sessionToken.name}=${encodeURIComponent(`${token}.${signatureOf(token, context.secret)}`)}`;
}
