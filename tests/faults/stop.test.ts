// SIGTERM in the midst of work: everything begun is ended, and the process says that all is well.
import { once } from 'node:events';
import { connect } from 'node:net';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { serverProcess } from '../fixtures/server-process.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

it('ends well while the invented film is being made, and goes on with it at the next start', async () => {
  const server = await serverProcess(rig, { ROLE: 'all' }, ['--demo']);
  const clips = () => rig.db.clip.count({ where: { film: { invented: true } } });
  await server.start();
  // One is shot, its proxy is waited for, and the next one is being shot.
  await eventually(async () => expect(await clips()).toBeGreaterThan(0));
  // Browsers open a connection before they have anything to ask.
  const silent = connect(server.port, '127.0.0.1').on('error', () => {});
  await once(silent, 'connect');
  expect(await server.stop()).toEqual({ code: 0, complaints: '' });
  const before = await clips();
  await server.start();
  await eventually(async () => expect(await clips()).toBeGreaterThan(before));
  expect(await server.stop()).toEqual({ code: 0, complaints: '' });
  expect(await rig.db.film.count({ where: { invented: true } })).toBe(1);
});
