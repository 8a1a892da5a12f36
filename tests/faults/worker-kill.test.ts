import { execFile } from 'node:child_process';
import { copyFile } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, it } from 'vitest';
import { makeSource, receive } from '../fixtures/clips.ts';
import { withWorker } from '../fixtures/worker-process.ts';

/** With `LONG=1` twenty kills in all. */
const CLIPS = process.env['LONG'] ? 5 : 2;
/** Kills a clip: one fewer than the queue tries again, so that none is given up. */
const KILLS_A_CLIP = 4;

const stand = withWorker();

/** Processes of ffmpeg that read or write this test's media: a worker that dies must not leave its encoder at work. */
async function encodersAtWork(): Promise<string[]> {
  const { stdout } = await promisify(execFile)('ps', ['-eo', 'args']);
  return stdout.split('\n').filter((line) => line.includes('ffmpeg') && line.includes(stand.rig.config.dataDir));
}

// Starting a worker 25 times is most of it.
it(`${CLIPS * KILLS_A_CLIP} kills of the worker in the middle of a transcode: every proxy ends ready, nothing is left over`, { timeout: 1_200_000 }, async () => {
  const { rig, dir, told, worker } = stand;
  const source = await makeSource(join(dir, 'source.mov'), { seconds: 60, size: '640x360' });
  let kills = 0;
  for (let n = 0; n < CLIPS; n++) {
    const file = join(dir, `clip-${n}.mov`);
    await copyFile(source, file);
    const { id } = await receive(rig.ground, rig.film, file);
    const times = (kind: string) => told.events.filter((event) => event.subject === id && event.kind === kind).length;
    for (let kill = 0; kill < KILLS_A_CLIP; kill++) {
      worker.start();
      // The first segments are there and the rest is being made: the middle of the transcode.
      await told.until(() => times('clip.playable') > kill);
      await worker.kill();
      kills += 1;
      expect(times('clip.ready')).toBe(0);
    }
    worker.start();
    await told.until(() => times('clip.ready') === 1);
  }
  expect(kills).toBe(CLIPS * KILLS_A_CLIP);

  const clips = await rig.db.clip.findMany({ where: { filmId: rig.film } });
  expect(clips.map(({ state, frames }) => [state, frames])).toEqual(Array.from({ length: CLIPS }, () => ['ready', 1500]));
  for (const { id, proxyVersion } of clips) {
    expect(await rig.ground.storage.list('proxies', id)).toEqual([proxyVersion]);
    expect((await rig.as('editor').get(rig.at(`/media/${id}/${proxyVersion}/picture.m3u8`))).body).toContain('#EXT-X-ENDLIST');
  }
  const jobs = await rig.db.$queryRaw<{ state: string }[]>`SELECT state::text FROM jobs.job WHERE name = 'proxy' AND state <> 'completed'`;
  expect(jobs).toEqual([]);
  expect(await encodersAtWork()).toEqual([]);
});
