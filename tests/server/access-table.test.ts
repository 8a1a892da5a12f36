import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';

// Who comes to do what: the table of people in the product's own description ("must never" column included).
// Written out here a second time on purpose, so that a slip in server/access/roles.ts does not test itself.
const EXPECTED: Record<string, Person[]> = {
  'film.read': ['director', 'editor', 'assistant', 'field', 'viewer'],
  'film.edit': ['director', 'editor'],
  'crew.read': ['director', 'editor', 'assistant', 'field'],
  'crew.manage': ['director', 'editor'],
  'outline.read': ['director', 'editor', 'assistant', 'field', 'viewer'],
  'outline.edit': ['director', 'editor'],
  'clips.read': ['director', 'editor', 'assistant', 'field'],
  'clips.upload': ['director', 'editor', 'assistant', 'field'],
  'clips.edit': ['director', 'editor', 'assistant'],
  'selects.read': ['director', 'editor', 'assistant', 'field'],
  'selects.edit': ['director', 'editor', 'assistant'],
  'offers.read': ['director', 'editor', 'assistant', 'field', 'viewer'],
  'offers.edit': ['director', 'editor'],
  'verdicts.give': ['director'],
  'notes.read': ['director', 'editor', 'assistant', 'field', 'viewer'],
  'notes.write': ['director', 'editor', 'assistant', 'field', 'viewer'],
  'notes.settle': ['director', 'editor', 'assistant'],
  'music.read': ['director', 'editor', 'assistant', 'field'],
  'music.send': ['director', 'editor', 'assistant', 'field'],
  'music.edit': ['director', 'editor', 'assistant'],
  'music.lock': ['director', 'editor'],
  'ledger.read': ['director', 'editor', 'assistant', 'field'],
  'clearances.read': ['director', 'editor', 'assistant', 'field'],
  // Releases are signed in the field.
  'clearances.edit': ['director', 'editor', 'assistant', 'field'],
  'turnover.make': ['director', 'editor', 'assistant'],
};
const PEOPLE: Person[] = ['director', 'editor', 'assistant', 'field', 'viewer', 'stranger', 'nobody'];

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

function address(url: string): string {
  return url.replace(':film', rig.film).replace(/:\w+/g, 'none').replace('*', 'none');
}

describe('every route × everyone', () => {
  it('has a row for every permission that a route asks for', () => {
    const asked = new Set(rig.app.routes.map(({ permission }) => permission).filter((permission) => permission.includes('.')));
    expect([...asked].filter((permission) => !(permission in EXPECTED))).toEqual([]);
    expect(rig.app.routes.length).toBeGreaterThan(40);
  });

  it('answers each of them as the table says', async () => {
    const wrong: string[] = [];
    for (const { method, url, permission } of rig.app.routes) {
      // HEAD and OPTIONS carry no problem document, and tus answers OPTIONS to anyone by its own rule.
      if (method === 'OPTIONS' || url.startsWith('/api/docs') || url === '/*') continue;
      // Answers 503 here, where no worker runs; tests/server/health.test.ts looks at it.
      if (url === '/api/health') continue;
      for (const person of PEOPLE) {
        const { status } = await rig.as(person).fetch(address(url), { method, ...(method === 'GET' || method === 'HEAD' ? {} : { headers: { 'tus-resumable': '1.0.0' } }) });
        const expected =
          permission === 'anyone'
            ? 'let in'
            : person === 'nobody'
              ? 401
              : permission === 'signed-in'
                ? 'let in'
                : person === 'stranger'
                  ? 404
                  : EXPECTED[permission]?.includes(person)
                    ? 'let in'
                    : 403;
        const fits = expected === 'let in' ? status !== 403 && (status !== 401 || permission === 'anyone') && status < 500 : status === expected;
        if (!fits) wrong.push(`${person} ${method} ${url} (${permission}): ${status}, expected ${expected}`);
      }
    }
    expect(wrong).toEqual([]);
  });

  it('refuses a change asked for by a page of another site, whoever is signed in', async () => {
    const answer = await rig.as('director').post(rig.at('/items'), {}, { origin: 'https://elsewhere.example' });
    expect(answer.status).toBe(403);
    expect(answer.body.code).toBe('foreign-origin');
  });

  it('lets a viewer write notes only when the invitation said so', async () => {
    await rig.db.member.updateMany({ where: { filmId: rig.film, role: 'viewer' }, data: { mayComment: false } });
    const answer = await rig.as('viewer').post(rig.at('/notes'), { text: 'Good light.', slotId: 'none' });
    expect([answer.status, answer.body.code]).toEqual([403, 'not-allowed']);
  });
});
