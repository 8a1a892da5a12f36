import { copyFile, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import postgres from 'postgres';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { EVENT_CHANNEL } from '../../server/platform/write.ts';
import { PASSING_CHANNEL } from '../../server/platform/passing.ts';
import type { FilmEvent, Progress } from '../../server/live/contract.ts';
import { startProxyWorker, type ProxyWorker } from '../../server/proxies/index.ts';
import { makeSource, receive, type Source } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

/** Long enough to be looked at while it is being made. */
const LONG: Source = { seconds: 60, size: '640x360' };

let rig: Rig;
let dir: string;
let sql: postgres.Sql;
let worker: ProxyWorker | null = null;
const told: FilmEvent[] = [];
const progress: Progress[] = [];
let wake: () => void = () => {};

beforeAll(async () => {
  rig = await startRig();
  dir = await mkdtemp(join(tmpdir(), 'rushlight-sources-'));
  sql = postgres(rig.ground.databaseUrl, { max: 1, onnotice: () => {} });
  await sql.listen(EVENT_CHANNEL, (text) => {
    told.push(JSON.parse(text) as FilmEvent);
    wake();
  });
  await sql.listen(PASSING_CHANNEL, (text) => {
    progress.push(JSON.parse(text) as Progress);
    wake();
  });
});
afterAll(async () => {
  await sql.end();
  await rig.close();
  await rm(dir, { recursive: true, force: true });
});
beforeEach(() => {
  told.length = 0;
  progress.length = 0;
});
afterEach(async () => {
  await worker?.stop();
  worker = null;
});

/** Resolves when what was heard so far fulfils the condition; looks again at each message. */
async function heard(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise<void>((done) => (wake = done));
}
const kinds = (clipId: string) => told.filter((event) => event.subject === clipId).map((event) => event.kind);
const source = (name: string, spec: Source) => makeSource(join(dir, name), spec);
const clipOf = (id: string) => rig.db.clip.findUniqueOrThrow({ where: { id } });
const folders = (clipId: string) => rig.ground.storage.list('proxies', clipId);
const media = (clipId: string, version: string | null, file: string) => rig.as('editor').get(rig.at(`/media/${clipId}/${version}/${file}`));

describe('the job of a proxy', { timeout: 180_000 }, () => {
  it('measures, tells, can be played while it is made, and ends ready at the same address', async () => {
    worker = await startProxyWorker(rig.ground);
    const { id } = await receive(rig.ground, rig.film, await source('long.mov', LONG));
    await heard(() => kinds(id).includes('clip.playable'));
    const early = await clipOf(id);
    expect(early).toMatchObject({ state: 'working', rateNum: 25, rateDen: 1, width: 640, height: 360 });
    const growing = await media(id, early.proxyVersion, 'picture.m3u8');
    expect(growing.status).toBe(200);
    expect(growing.headers.get('cache-control')).toBe('no-store');
    expect(growing.body).toContain('#EXTINF');
    expect(growing.body).not.toContain('#EXT-X-ENDLIST');
    await heard(() => kinds(id).includes('clip.ready'));
    expect(kinds(id)).toEqual(['clip.measured', 'clip.playable', 'clip.ready']);
    expect(await clipOf(id)).toMatchObject({ state: 'ready', frames: 1500, proxyVersion: early.proxyVersion, failure: null });
    expect((await media(id, early.proxyVersion, 'picture.m3u8')).body).toContain('#EXT-X-ENDLIST');
    const mine = progress.filter((message) => message.clipId === id && message.stage === 'proxy');
    expect(mine.length).toBeGreaterThan(1);
    expect(mine.map((message) => message.fraction)).toEqual(mine.map((message) => message.fraction).toSorted((a, b) => a - b));
    expect(mine.some((message) => message.etaSeconds !== null)).toBe(true);
    expect(await folders(id)).toEqual([early.proxyVersion]);
  });

  it('fills in the day and the camera that nobody has set, and leaves what somebody has', async () => {
    const spec: Source = { seconds: 2, metadata: { creation_time: '2026-05-31T22:30:00Z', make: 'Test', model: 'TM-1' } };
    const bare = await receive(rig.ground, rig.film, await source('bare.mov', spec));
    const set = await receive(rig.ground, rig.film, await source('set.mov', spec), { camera: 'B', shootDay: new Date('2026-06-02') });
    worker = await startProxyWorker(rig.ground);
    await heard(() => [bare, set].every(({ id }) => kinds(id).includes('clip.ready')));
    expect(await clipOf(bare.id)).toMatchObject({ camera: 'TM-1', shootDay: new Date('2026-05-31'), capturedAt: new Date('2026-05-31T22:30:00Z') });
    expect(await clipOf(set.id)).toMatchObject({ camera: 'B', shootDay: new Date('2026-06-02') });
  });

  // The time-out is the test: a queue that pauses after each job, as pg-boss does by itself for 30 s, needs minutes.
  it('is followed by the next at once while clips wait', { timeout: 25_000 }, async () => {
    const file = await source('first.mov', { seconds: 1, size: '320x180' });
    const clips: Awaited<ReturnType<typeof receive>>[] = [];
    for (let n = 0; n < 6; n++) {
      await copyFile(file, join(dir, `next-${n}.mov`));
      clips.push(await receive(rig.ground, rig.film, join(dir, `next-${n}.mov`)));
    }
    worker = await startProxyWorker(rig.ground);
    await heard(() => clips.every(({ id }) => kinds(id).includes('clip.ready')));
  });

  it('enqueued twice makes one proxy', async () => {
    const { id } = await receive(rig.ground, rig.film, await source('twice.mov', { seconds: 3 }));
    await rig.ground.jobs.send('proxy', { clipId: id });
    const second = await startProxyWorker(rig.ground);
    worker = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.ready'));
    await second.stop();
    await worker.stop();
    worker = null;
    expect(kinds(id)).toEqual(['clip.measured', 'clip.playable', 'clip.ready']);
    expect(await folders(id)).toHaveLength(1);
    expect((await rig.ground.jobs.findJobs('proxy', { data: { clipId: id } })).map((job) => job.state)).not.toContain('failed');
  });

  it('stopped, goes back to the queue at once and leaves nothing; the next worker finishes it', async () => {
    const { id } = await receive(rig.ground, rig.film, await source('stopped.mov', LONG));
    const first = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.playable'));
    await first.stop();
    expect(await folders(id)).toEqual([]);
    expect(await rig.ground.jobs.findJobs('proxy', { data: { clipId: id }, queued: true })).toHaveLength(1);
    expect((await clipOf(id)).state).toBe('working');
    worker = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.ready'));
    expect(await folders(id)).toEqual([(await clipOf(id)).proxyVersion]);
  });
});

describe('a failure', { timeout: 180_000 }, () => {
  it('that will not pass is told at once, in words, with the end of what ffmpeg said, and can be retried', async () => {
    const broken = await source('broken.mov', { seconds: 3 });
    const bytes = await readFile(broken);
    await writeFile(broken, bytes.subarray(0, bytes.length / 2));
    const { id } = await receive(rig.ground, rig.film, broken);
    worker = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.failed'));
    const { state, failure, proxyVersion, originalPath } = await clipOf(id);
    expect([state, proxyVersion]).toEqual(['failed', null]);
    expect(failure).toMatchObject({ stage: 'probe', code: expect.any(String), reason: expect.stringMatching(/\w+ \w+/) });
    expect(await folders(id)).toEqual([]);

    const whole = await source('whole.mov', { seconds: 3 });
    await rm(rig.ground.storage.path('originals', originalPath));
    await rig.ground.storage.moveIn(whole, 'originals', originalPath);
    // Whoever mends the file by hand may ask again whatever the failure said.
    await rig.db.clip.update({ where: { id }, data: { failure: { ...(failure as object), mayRetry: true } } });
    expect((await rig.as('assistant').post(rig.at(`/clips/${id}/retry`))).status).toBe(200);
    await heard(() => kinds(id).includes('clip.ready'));
    expect(await clipOf(id)).toMatchObject({ state: 'ready', failure: null });
  });

  it('names an original that is not there', async () => {
    const { id, originalPath } = await receive(rig.ground, rig.film, await source('lost.mov', { seconds: 1 }));
    await rm(rig.ground.storage.path('originals', originalPath));
    worker = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.failed'));
    expect((await clipOf(id)).failure).toMatchObject({ code: 'original-missing', mayRetry: true });
  });

  it('of a clip that no job is left for is told', async () => {
    const { id } = await receive(rig.ground, rig.film, await source('stranded.mov', { seconds: 1 }));
    await rig.ground.jobs.deleteQueuedJobs('proxy');
    worker = await startProxyWorker(rig.ground);
    await heard(() => kinds(id).includes('clip.failed'));
    expect((await clipOf(id)).failure).toMatchObject({ code: 'worker-died', mayRetry: true });
  });
});
