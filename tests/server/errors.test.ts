import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { CATALOGUE, Refusal, refusalOf } from '../../server/platform/errors.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

describe('errors', () => {
  it('are documented, every one and no others, with their status', () => {
    const text = readFileSync('DEVELOPERS.md', 'utf8');
    const section = text.slice(text.indexOf('## Errors'));
    const documented = [...section.matchAll(/^\| `([a-z0-9-]+)` \| (\d{3}) \|/gm)].map(([, code, status]) => [code, Number(status)]);
    expect(documented).toEqual(Object.entries(CATALOGUE).map(([code, [status]]) => [code, status]));
  });

  it('are thrown somewhere: no code is only on paper', async () => {
    const { globSync } = await import('node:fs');
    const source = globSync('server/**/*.ts').filter((file) => !file.endsWith('platform/errors.ts')).map((file) => readFileSync(file, 'utf8')).join('\n');
    const inFile = readFileSync('server/platform/errors.ts', 'utf8');
    const uses = (code: string) => source.includes(`'${code}'`) || inFile.includes(`Refusal('${code}'`);
    expect(Object.keys(CATALOGUE).filter((code) => !uses(code))).toEqual([]);
  });

  it('reach a client as a problem document that names the field (RFC 9457)', async () => {
    const answer = await rig.as('director').patch(rig.at(''), { title: '' });
    expect(answer.status).toBe(400);
    expect(answer.headers.get('content-type')).toContain('application/problem+json');
    expect(answer.body).toMatchObject({ type: 'urn:rushlight:problem:bad-input', status: 400, code: 'bad-input', fields: [{ field: 'title' }] });
  });

  it('refuse fields that nobody asked for instead of dropping them in silence', async () => {
    const answer = await rig.as('director').patch(rig.at(''), { tilte: 'The Last Ferry' });
    expect(answer.body).toMatchObject({ code: 'bad-input', fields: [{ field: 'tilte' }] });
  });

  it('keep the text of what was not foreseen on the server', () => {
    const refusal = refusalOf(new Error('password of the database is hunter2'));
    expect([refusal.code, refusal.message]).toEqual(['server-error', CATALOGUE['server-error'][1]]);
    expect(refusalOf(Object.assign(new Error('write'), { code: 'ENOSPC' })).code).toBe('disk-full');
    expect(refusalOf(new Refusal('own-branch')).status).toBe(409);
  });

  it('answer an address that does not exist, and broken JSON', async () => {
    expect((await rig.as('director').get('/api/nothing')).body.code).toBe('not-found');
    const broken = await rig.as('director').fetch(rig.at(''), { method: 'PATCH', body: '{', headers: { 'content-type': 'application/json' } });
    expect([broken.status, ((await broken.json()) as { code: string }).code]).toEqual([400, 'bad-input']);
  });
});
