import { join } from 'node:path';
import { expect, it } from 'vitest';
import { makeSound, sendTrack } from '../fixtures/music.ts';
import { withWorker } from '../fixtures/worker-process.ts';

const KILLS = 3;

const stand = withWorker();

it(`${KILLS} kills of the worker in the middle of a track: it ends ready, with nothing left over, and was told of all the while`, async () => {
  const { rig, dir, told, worker } = stand;
  const file = await makeSound(join(dir, 'long.flac'), 'anoisesrc=c=pink:r=48000:d=120', '-ac', '2');
  const { body } = await sendTrack(rig, rig.as('editor'), file);
  const progress = () => told.passing.flatMap((message) => (message.to === 'track' ? [message] : []));
  const ready = () => told.events.filter(({ kind }) => kind === 'track.ready');
  for (let kill = 0; kill < KILLS; kill++) {
    told.passing.length = 0;
    worker.start();
    await told.until(() => progress().some(({ fraction }) => fraction > 0.02));
    await worker.kill();
    expect(ready()).toEqual([]);
  }
  told.passing.length = 0;
  worker.start();
  await told.until(() => ready().length > 0);
  const track = await rig.db.track.findUniqueOrThrow({ where: { id: body.id } });
  expect(track).toMatchObject({ state: 'ready', lengthMs: 120_000, failure: null });
  expect(await rig.ground.storage.list('music', track.id)).toEqual([track.version]);
  expect((await rig.ground.storage.list('music', `${track.id}/${track.version}`)).sort()).toEqual(['play.m4a', ...Array.from({ length: 6 }, (_, n) => `wave-${n}.bin`)]);
  const fractions = progress().map(({ fraction }) => fraction);
  expect(fractions).toEqual(fractions.toSorted((a, b) => a - b));
  expect(progress().some(({ etaSeconds }) => etaSeconds !== null && etaSeconds > 0)).toBe(true);
  expect(ready()).toHaveLength(1);
});
