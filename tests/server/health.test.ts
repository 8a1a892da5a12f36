import { rename } from 'node:fs/promises';
import { join } from 'node:path';
import Fastify from 'fastify';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { BUSY_MS, busyOptions } from '../../server/platform/busy.ts';
import { answerError } from '../../server/platform/errors.ts';
import { announceWorker } from '../../server/platform/worker-presence.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

describe('GET /api/health', () => {
  it('says that no worker runs, and is well once one does, until its connection ends', async () => {
    const alone = await rig.as('nobody').get('/api/health');
    expect([alone.status, alone.body]).toEqual([503, { database: 'ok', storage: 'ok', worker: 'no worker is running' }]);
    const leave = await announceWorker(rig.ground.databaseUrl);
    expect((await rig.as('nobody').get('/api/health')).status).toBe(200);
    await leave();
    await expect.poll(async () => (await rig.as('nobody').get('/api/health')).status).toBe(503);
  });

  it('says when the media folder is not mounted', async () => {
    const sentinel = join(rig.config.dataDir, 'media', '.rushlight');
    await rename(sentinel, `${sentinel}.away`);
    const { body } = await rig.as('nobody').get('/api/health');
    expect(body).toMatchObject({ database: 'ok', storage: expect.stringContaining('media folder') });
    await rename(`${sentinel}.away`, sentinel);
  });
});

describe('a busy server', () => {
  it('is one whose loop was late twice in a row; not one that had a stall, which is over', async () => {
    const app = Fastify();
    app.setErrorHandler(answerError);
    let delay = 0;
    const { pressureHandler } = busyOptions();
    app.addHook('onRequest', (request, reply) => pressureHandler(request, reply, 'eventLoopDelay', delay));
    app.get('/', () => 'here');
    const said: [number, number][] = [];
    // Each number is an interval; two requests in each.
    for (delay of [Infinity, BUSY_MS + 1, BUSY_MS + 2, Infinity]) for (let i = 0; i < 2; i++) said.push([delay, (await app.inject('/')).statusCode]);
    expect(said).toEqual([[Infinity, 200], [Infinity, 200], [5001, 200], [5001, 200], [5002, 503], [5002, 503], [Infinity, 200], [Infinity, 200]]);
    delay = BUSY_MS + 3;
    const refused = await app.inject('/');
    expect([refused.json().code, refused.headers['retry-after']]).toEqual(['overloaded', '10']);
    await app.close();
  });
});
