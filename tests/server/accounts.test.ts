import { createHmac } from 'node:crypto';
import { makeSignature } from 'better-auth/crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { signatureOf } from '../../server/access/session.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

const account = (name: string) => ({ name, email: `${name}@example.test`, password: 'a long enough one' });
const cookieOf = (headers: Headers) => headers.getSetCookie().map((cookie) => cookie.split(';', 1)[0]).join('; ');

describe('the first account', () => {
  it('cannot be made where accounts exist', async () => {
    const { token } = (await rig.as('director').post(rig.at('/invitations'), { role: 'editor' })).body;
    expect((await rig.as('nobody').get('/api/welcome')).body).toEqual({ firstAccount: true });
    await rig.as('nobody').post(`/api/invitations/${token}/accept`, account('early'));
    expect((await rig.as('nobody').get('/api/welcome')).body).toEqual({ firstAccount: false });
    expect((await rig.as('nobody').post('/api/first-account', account('late'))).body.code).toBe('first-account-exists');
  });

  it('is made once when many ask at the same moment', async () => {
    const empty = await startRig();
    const answers = await Promise.all(Array.from({ length: 8 }, (_, n) => empty.as('nobody').post('/api/first-account', account(`first${n}`))));
    expect(answers.map(({ status }) => status).sort()).toEqual([201, 409, 409, 409, 409, 409, 409, 409]);
    expect(await empty.db.account.count()).toBe(1);
    const made = answers.find(({ status }) => status === 201)!;
    const me = await empty.as('nobody').get('/api/me', { cookie: cookieOf(made.headers) });
    expect(me.body).toMatchObject({ keeper: true, mayMakeFilms: true });
    await empty.close();
  });
});

describe('sessions', () => {
  it('nobody signs up by themselves', async () => {
    const answer = await rig.as('nobody').post('/api/auth/sign-up/email', account('uninvited'));
    expect(answer.status).toBeGreaterThanOrEqual(400);
    expect(await rig.db.user.count({ where: { email: 'uninvited@example.test' } })).toBe(0);
  });

  it('end on the server when one signs out', async () => {
    const { token } = (await rig.as('director').post(rig.at('/invitations'), { role: 'editor' })).body;
    const joined = await rig.as('nobody').post(`/api/invitations/${token}/accept`, account('leaver'));
    const cookie = cookieOf(joined.headers);
    expect((await rig.as('nobody').get('/api/me', { cookie })).status).toBe(200);
    expect((await rig.as('nobody').post('/api/auth/sign-out', {}, { cookie, origin: rig.url })).status).toBe(200);
    expect((await rig.as('nobody').get('/api/me', { cookie })).body.code).toBe('not-signed-in');
  });

  it('are refused under a signature that is not this server’s', async () => {
    const [name, value] = rig.as('editor').cookie.split('=') as [string, string];
    const [token, signature] = decodeURIComponent(value).split('.') as [string, string];
    const forged = createHmac('sha256', 'another secret').update(token).digest('base64');
    for (const wrong of [token, `${token}.`, `.${signature}`, `${token}.${forged}`, `${token}x.${signature}`])
      expect((await rig.as('nobody').get('/api/me', { cookie: `${name}=${encodeURIComponent(wrong)}` })).body.code, wrong).toBe('not-signed-in');
    expect((await rig.as('nobody').get('/api/me', { cookie: `other=1; ${name}=${value}` })).status).toBe(200);
  });

  it('are signed as better-auth signs them', async () => {
    expect(signatureOf('a token', 'a secret')).toBe(await makeSignature('a token', 'a secret'));
  });

  it('are prolonged once a day, in the database and in the browser, and end when their time is over', async () => {
    const member = await rig.join('field', 'Visitor');
    const of = { where: { userId: member.userId } };
    const fresh = await member.get('/api/me');
    expect([fresh.status, fresh.headers.getSetCookie()]).toEqual([200, []]);
    const inDays = (days: number) => new Date(Date.now() + days * 86_400_000);

    await rig.db.session.updateMany({ ...of, data: { expiresAt: inDays(28) } });
    const due = await member.get(rig.at('/state'));
    expect(due.status).toBe(200);
    expect(due.headers.getSetCookie().join()).toMatch(/session_token=.*Max-Age=2592000/);
    expect((await rig.db.session.findFirstOrThrow(of)).expiresAt.getTime()).toBeGreaterThan(inDays(29.9).getTime());
    expect((await member.get('/api/me')).headers.getSetCookie()).toEqual([]);

    await rig.db.session.updateMany({ ...of, data: { expiresAt: inDays(-0.001) } });
    expect((await member.get('/api/me')).body.code).toBe('not-signed-in');
    expect(await rig.db.session.count(of)).toBe(0);
  });

  it('are not given for a wrong password', async () => {
    const answer = await rig.as('nobody').post('/api/auth/sign-in/email', { email: 'leaver@example.test', password: 'not the one' });
    expect(answer.status).toBe(401);
    expect(answer.headers.getSetCookie()).toEqual([]);
  });
});

describe('invitations', () => {
  it('bring a new account in with the role they name, once', async () => {
    const made = await rig.as('director').post(rig.at('/invitations'), { role: 'field' });
    expect(made.status).toBe(201);
    const path = `/api/invitations/${made.body.token}`;
    expect((await rig.as('nobody').get(path)).body).toEqual({ film: 'The Last Ferry (test)', role: 'field', invitedBy: 'Test director' });
    const joined = await rig.as('nobody').post(`${path}/accept`, account('ines'));
    expect(joined.body).toEqual({ filmId: rig.film });
    const state = await rig.as('nobody').get(rig.at('/state'), { cookie: cookieOf(joined.headers) });
    expect(state.body.mine.role).toBe('field');
    expect((await rig.as('nobody').post(`${path}/accept`, account('second'))).body.code).toBe('invitation-over');
    expect(await rig.db.user.count({ where: { email: 'second@example.test' } })).toBe(0);
  });

  it('are over when revoked or too old, and unknown ones are unknown', async () => {
    const revoked = (await rig.as('director').post(rig.at('/invitations'), { role: 'editor' })).body;
    expect((await rig.as('director').del(rig.at(`/invitations/${revoked.invitation.id}`))).body.revokedAt).not.toBeNull();
    expect((await rig.as('nobody').get(`/api/invitations/${revoked.token}`)).status).toBe(410);
    const old = (await rig.as('director').post(rig.at('/invitations'), { role: 'editor' })).body;
    await rig.db.invitation.update({ where: { id: old.invitation.id }, data: { expiresAt: new Date(0) } });
    expect((await rig.as('nobody').get(`/api/invitations/${old.token}`)).body.code).toBe('invitation-over');
    expect((await rig.as('nobody').get('/api/invitations/never')).body.code).toBe('invitation-unknown');
  });

  it('never lower somebody who is in already', async () => {
    const { token } = (await rig.as('editor').post(rig.at('/invitations'), { role: 'viewer' })).body;
    await rig.as('director').post(`/api/invitations/${token}/accept`, {});
    expect((await rig.as('director').get(rig.at('/state'))).body.mine.role).toBe('director');
  });

  it('to direct come from a director only', async () => {
    expect((await rig.as('editor').post(rig.at('/invitations'), { role: 'director' })).body.code).toBe('not-allowed');
  });
});

describe('members', () => {
  it('a film keeps at least one director, also when two leave at once', async () => {
    const second = await rig.join('director', 'Second');
    const both = await Promise.all([
      rig.as('director').del(rig.at(`/members/${second.userId}`)),
      second.del(rig.at(`/members/${rig.as('director').userId}`)),
    ]);
    expect(both.filter(({ status }) => status === 200)).toHaveLength(1);
    expect(await rig.db.member.count({ where: { filmId: rig.film, role: 'director' } })).toBe(1);
    const left = await rig.db.member.findFirstOrThrow({ where: { filmId: rig.film, role: 'director' } });
    const caller = left.userId === second.userId ? second : rig.as('director');
    expect((await caller.patch(rig.at(`/members/${left.userId}`), { role: 'editor' })).body.code).toBe('last-director');
  });
});
