import { createHash, randomBytes } from 'node:crypto';
import { Type } from 'typebox';
import type { Invitation as InvitationRow, Member } from '#prisma';
import type { App } from '../platform/http.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import { write, type Who } from '../platform/write.ts';
import { Member as MemberShape } from '../films/contract.ts';
import { signIn } from './accounts.ts';
import { createAccount } from './auth.ts';
import { Invitation, MadeInvitation, MemberChange, NewAccount, NewInvitation, ROLES } from './contract.ts';
import { memberOf, whoOf } from './guard.ts';
import { mayGrant } from './roles.ts';
import { toInvitation, toMember } from './rows.ts';
import { askerOf } from './session.ts';

const DAY_MS = 86_400_000;
const InFilm = Type.Object({ film: Type.String() });

/** Invitations by link, roles, and leaving. */
export function crewRoutes(app: App): void {
  const { db, auth } = app;

  app.get(
    '/api/films/:film/invitations',
    { config: { permission: 'crew.manage' }, schema: { summary: 'Invitations of this film', params: InFilm, response: { 200: Type.Array(Invitation) } } },
    async (request) => {
      const rows = await db.invitation.findMany({ where: { filmId: memberOf(request).filmId }, orderBy: { createdAt: 'desc' } });
      return rows.map(toInvitation);
    },
  );

  app.post(
    '/api/films/:film/invitations',
    { config: { permission: 'crew.manage' }, schema: { summary: 'Invite by link; the token is shown once', params: InFilm, body: NewInvitation, response: { 201: MadeInvitation } } },
    async (request, reply) => {
      const { filmId, role, userId } = memberOf(request);
      if (!mayGrant(role, request.body.role)) throw new Refusal('not-allowed', 'Only a director can make somebody a director.');
      const token = randomBytes(24).toString('base64url');
      const row = await db.invitation.create({
        data: {
          filmId,
          role: request.body.role,
          mayComment: request.body.mayComment ?? true,
          tokenHash: hashOf(token),
          invitedById: userId,
          expiresAt: new Date(Date.now() + (request.body.days ?? 14) * DAY_MS),
        },
      });
      return reply.status(201).send({ invitation: toInvitation(row), token });
    },
  );

  app.delete(
    '/api/films/:film/invitations/:invitation',
    {
      config: { permission: 'crew.manage' },
      schema: { summary: 'Take an invitation back', params: Type.Object({ film: Type.String(), invitation: Type.String() }), response: { 200: Invitation } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      const found = await db.invitation.findFirst({ where: { id: request.params.invitation, filmId } });
      if (!found) throw new Refusal('not-found');
      return toInvitation(await db.invitation.update({ where: { id: found.id }, data: { revokedAt: found.revokedAt ?? new Date() } }));
    },
  );

  const Token = Type.Object({ token: Type.String({ maxLength: 200 }) });
  app.get(
    '/api/invitations/:token',
    {
      config: { permission: 'anyone' },
      schema: { summary: 'What an invitation is for', params: Token, response: { 200: Type.Object({ film: Type.String(), role: Type.Enum([...ROLES]), invitedBy: Type.String() }) } },
    },
    async (request) => {
      const invitation = await openInvitation(db, request.params.token);
      const [film, inviter] = await Promise.all([
        db.film.findUniqueOrThrow({ where: { id: invitation.filmId } }),
        db.user.findUnique({ where: { id: invitation.invitedById } }),
      ]);
      return { film: film.title, role: invitation.role, invitedBy: inviter?.name ?? 'somebody who has left' };
    },
  );

  app.post(
    '/api/invitations/:token/accept',
    {
      config: { permission: 'anyone' },
      schema: {
        summary: 'Join the film: with a new account, or signed in with an empty body',
        params: Token,
        body: Type.Partial(NewAccount),
        response: { 200: Type.Object({ filmId: Type.String() }) },
      },
    },
    async (request, reply) => {
      const invitation = await openInvitation(db, request.params.token);
      const asker = await askerOf(app, request, null);
      if (asker) {
        const { id } = asker.account;
        await join(id, invitation, { ...whoOf(request), userId: id });
        return { filmId: invitation.filmId };
      }
      const { name, email, password } = request.body;
      if (!name || !email || !password) throw new Refusal('not-signed-in', 'Sign in, or give name, email and password for a new account.');
      if (await db.user.findUnique({ where: { email: email.toLowerCase() } })) throw new Refusal('email-taken');
      const userId = await createAccount(auth, { name, email, password });
      try {
        await join(userId, invitation, { ...whoOf(request), userId });
      } catch (error) {
        await db.user.delete({ where: { id: userId } });
        throw error;
      }
      await signIn(app, reply, { email, password });
      return { filmId: invitation.filmId };
    },
  );

  async function join(userId: string, { id, filmId, role, mayComment }: InvitationRow, who: Who): Promise<void> {
    await write(db, who, filmId, async (tx) => {
      const { count } = await tx.invitation.updateMany({ where: { id, acceptedAt: null, revokedAt: null }, data: { acceptedAt: new Date(), acceptedBy: userId } });
      if (count === 0) throw new Refusal('invitation-over');
      const was = await tx.member.findUnique({ where: { filmId_userId: { filmId, userId } } });
      // An invitation never takes rights away from somebody who is in already.
      const row = was
        ? await tx.member.findUniqueOrThrow({ where: { filmId_userId: { filmId, userId } }, include: { user: true } })
        : await tx.member.create({ data: { filmId, userId, role, mayComment }, include: { user: true } });
      return { kind: 'member.joined', subject: userId, rows: { members: [toMember(row)] }, result: undefined };
    });
  }

  const OneMember = Type.Object({ film: Type.String(), user: Type.String() });
  app.patch(
    '/api/films/:film/members/:user',
    { config: { permission: 'crew.manage' }, schema: { summary: 'Change a role', params: OneMember, body: MemberChange, response: { 200: MemberShape } } },
    async (request) => {
      const mine = memberOf(request);
      return write(db, whoOf(request), mine.filmId, async (tx) => {
        const member = await lockMember(tx, mine.filmId, request.params.user);
        const role = request.body.role ?? member.role;
        if (!mayGrant(mine.role, role) || !mayGrant(mine.role, member.role)) throw new Refusal('not-allowed', 'Only a director can change who directs.');
        if (role !== 'director') await keepOneDirector(tx, member);
        const row = await tx.member.update({
          where: { filmId_userId: { filmId: member.filmId, userId: member.userId } },
          data: { role, mayComment: request.body.mayComment ?? member.mayComment },
          include: { user: true },
        });
        const result = toMember(row);
        return { kind: 'member.changed', subject: member.userId, rows: { members: [result] }, result };
      });
    },
  );

  app.delete(
    '/api/films/:film/members/:user',
    { config: { permission: 'crew.manage' }, schema: { summary: 'Take somebody off the film; their work stays', params: OneMember, response: { 200: MemberShape } } },
    async (request) => {
      const mine = memberOf(request);
      return write(db, whoOf(request), mine.filmId, async (tx) => {
        const member = await lockMember(tx, mine.filmId, request.params.user);
        if (!mayGrant(mine.role, member.role)) throw new Refusal('not-allowed', 'Only a director can take a director off the film.');
        await keepOneDirector(tx, member);
        const row = await tx.member.delete({ where: { filmId_userId: { filmId: member.filmId, userId: member.userId } }, include: { user: true } });
        const result = toMember(row, new Date());
        return { kind: 'member.left', subject: member.userId, rows: { members: [result] }, result };
      });
    },
  );
}

/** Two changes of the crew at once take turns on the film's row, or both could take away the last director. */
async function lockMember(tx: Tx, filmId: string, userId: string): Promise<Member> {
  await tx.$queryRaw`SELECT id FROM film WHERE id = ${filmId} FOR NO KEY UPDATE`;
  const member = await tx.member.findUnique({ where: { filmId_userId: { filmId, userId } } });
  if (!member) throw new Refusal('not-found');
  return member;
}

async function keepOneDirector(tx: Tx, leaving: Member): Promise<void> {
  if (leaving.role !== 'director') return;
  if ((await tx.member.count({ where: { filmId: leaving.filmId, role: 'director' } })) <= 1) throw new Refusal('last-director');
}

async function openInvitation(db: App['db'], token: string): Promise<InvitationRow> {
  const row = await db.invitation.findUnique({ where: { tokenHash: hashOf(token) } });
  if (!row) throw new Refusal('invitation-unknown');
  if (row.acceptedAt || row.revokedAt || row.expiresAt < new Date()) throw new Refusal('invitation-over');
  return row;
}

function hashOf(token: string): string {
  return createHash('sha256').update(token).digest('hex');
}
