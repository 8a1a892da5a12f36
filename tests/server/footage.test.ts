import { randomInt } from 'node:crypto';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { seenOf } from '../../server/footage/index.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

const clipAt = (id: string, rest = '') => rig.at(`/clips/${id}${rest}`);

describe('facts of a clip', () => {
  it('are set by who may edit clips, one event each, whole rows', async () => {
    const { id } = await addClip(rig);
    const before = await rig.db.event.count({ where: { filmId: rig.film } });
    const change = { camera: ' B ', card: 'B012', shootDay: '2026-05-31', location: 'The causeway' };
    const answer = await rig.as('assistant').patch(clipAt(id), change, { 'x-rushlight-client': 'tab-1' });
    expect(answer.status).toBe(200);
    expect(answer.body).toMatchObject({ id, camera: 'B', card: 'B012', shootDay: '2026-05-31', location: 'The causeway' });
    const events = await rig.db.event.findMany({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });
    expect(events.length).toBe(before + 1);
    expect(events[0]).toMatchObject({ kind: 'clip.changed', subject: id, client: 'tab-1', rows: { clips: [answer.body] } });
  });

  it('can be cleared again: no shoot day', async () => {
    const { id } = await addClip(rig, { shootDay: new Date('2026-05-31') });
    expect((await rig.as('editor').patch(clipAt(id), { shootDay: null })).body.shootDay).toBeNull();
  });

  it.each([
    ['a day that is not in the calendar', { shootDay: '2026-02-31' }, 'shootDay'],
    ['a day in another shape', { shootDay: '31.5.2026' }, 'shootDay'],
    ['a field nobody may set', { frames: 3 }, 'frames'],
  ])('refuse %s', async (_, change, field) => {
    const { id } = await addClip(rig);
    const answer = await rig.as('assistant').patch(clipAt(id), change);
    expect(answer.status).toBe(400);
    expect(answer.body).toMatchObject({ code: 'bad-input', fields: expect.arrayContaining([expect.objectContaining({ field })]) });
  });

  it('belong to their film: a clip of another film is not found', async () => {
    const other = await rig.db.film.create({ data: { title: 'Another', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const { id } = await addClip(rig, { filmId: other.id });
    for (const answer of [
      await rig.as('director').patch(clipAt(id), { camera: 'X' }),
      await rig.as('director').del(clipAt(id)),
      await rig.as('director').post(clipAt(id, '/restore')),
      await rig.as('director').post(clipAt(id, '/retry')),
      await rig.as('director').post(clipAt(id, '/seen'), { ranges: [[0, 5]] }),
    ])
      expect([answer.status, answer.body.code]).toEqual([404, 'not-found']);
  });
});

describe('removal', () => {
  it('takes a clip out of the film and brings it back whole', async () => {
    const { id } = await addClip(rig, { camera: 'D' });
    expect((await rig.as('editor').del(clipAt(id))).body.removedAt).not.toBeNull();
    expect((await rig.as('editor').get(rig.at('/clips'))).body.map((clip: { id: string }) => clip.id)).not.toContain(id);
    expect((await rig.as('editor').patch(clipAt(id), { camera: 'E' })).body.code).toBe('removed-meanwhile');
    expect((await rig.as('editor').post(clipAt(id, '/restore'))).body).toMatchObject({ id, camera: 'D', removedAt: null });
  });

  it('cannot be undone once the same file came in again; the answer names the clip that is there', async () => {
    const gone = await addClip(rig, { removedAt: new Date() });
    const here = await addClip(rig, { xxh64: gone.xxh64 });
    expect((await rig.as('editor').post(clipAt(gone.id, '/restore'))).body).toMatchObject({ status: 409, code: 'same-file', clipId: here.id });
  });

  it('of a clip whose proxy was not made yet puts the job back with the clip', async () => {
    const { id } = await addClip(rig, { state: 'received', frames: null, proxyVersion: null, removedAt: new Date() });
    await rig.as('editor').post(clipAt(id, '/restore'));
    expect(await rig.ground.jobs.findJobs('proxy', { data: { clipId: id }, queued: true })).toHaveLength(1);
  });
});

describe('retry', () => {
  const failure = { code: 'encode', stage: 'proxy', reason: 'The disk was full.', command: 'ffmpeg', output: '', mayRetry: true };

  it('puts a failed clip back into the queue, once', async () => {
    const { id } = await addClip(rig, { state: 'failed', proxyVersion: null, failure });
    expect((await rig.as('assistant').post(clipAt(id, '/retry'))).body).toMatchObject({ state: 'received', failure: null });
    expect((await rig.as('assistant').post(clipAt(id, '/retry'))).body.code).toBe('cannot-retry');
    expect(await rig.ground.jobs.findJobs('proxy', { data: { clipId: id }, queued: true })).toHaveLength(1);
  });

  it('is refused where it cannot help', async () => {
    const { id } = await addClip(rig, { state: 'failed', proxyVersion: null, failure: { ...failure, mayRetry: false } });
    expect((await rig.as('assistant').post(clipAt(id, '/retry'))).body.code).toBe('cannot-retry');
    const ready = await addClip(rig);
    expect((await rig.as('assistant').post(clipAt(ready.id, '/retry'))).body.code).toBe('cannot-retry');
  });
});

describe('what was seen', () => {
  it('is the union of a person’s stretches, and of everyone’s', async () => {
    const { id } = await addClip(rig);
    const seen = (who: 'editor' | 'director', ranges: number[][]) => rig.as(who).post(clipAt(id, '/seen'), { ranges });
    expect((await seen('editor', [[0, 10], [20, 30]])).body).toEqual({ id, mine: [[0, 10], [20, 30]], crew: [[0, 10], [20, 30]] });
    expect((await seen('editor', [[10, 20]])).body.mine).toEqual([[0, 30]]);
    expect((await seen('director', [[25, 50]])).body).toEqual({ id, mine: [[25, 50]], crew: [[0, 50]] });
    expect(await seenOf(rig.db, [id], rig.as('editor').userId)).toContainEqual({ id, mine: [[0, 30]], crew: [[0, 50]] });
    expect(await seenOf(rig.db, [id], rig.as('field').userId)).toContainEqual({ id, mine: [], crew: [[0, 50]] });
  });

  it('ends where the clip ends', async () => {
    const { id } = await addClip(rig);
    expect((await rig.as('editor').post(clipAt(id, '/seen'), { ranges: [[230, 9000], [500, 600]] })).body.mine).toEqual([[230, 240]]);
  });

  it('agrees with a plain set of frames under reports at once', async () => {
    const { id } = await addClip(rig);
    const reports = Array.from({ length: 30 }, () => {
      const first = randomInt(0, 239);
      return [[first, randomInt(first + 1, 241)]];
    });
    await Promise.all(reports.map((ranges) => rig.as('editor').post(clipAt(id, '/seen'), { ranges })));
    const expected = new Set(reports.flatMap(([[first, end]]: any) => Array.from({ length: end - first }, (_, n) => first + n)));
    const { body } = await rig.as('editor').post(clipAt(id, '/seen'), { ranges: [] });
    const got = new Set(body.mine.flatMap(([first, end]: [number, number]) => Array.from({ length: end - first }, (_, n) => first + n)));
    expect(got).toEqual(expected);
  });

  it('is refused backwards, and before the clip was measured', async () => {
    const { id } = await addClip(rig);
    expect((await rig.as('editor').post(clipAt(id, '/seen'), { ranges: [[5, 5]] })).body).toMatchObject({ code: 'bad-range', fields: [{ field: 'ranges.0' }] });
    const young = await addClip(rig, { state: 'received', frames: null, proxyVersion: null });
    expect((await rig.as('editor').post(clipAt(young.id, '/seen'), { ranges: [[0, 5]] })).body.code).toBe('clip-not-ready');
  });
});

describe('a clip with nothing usable', () => {
  it('is put aside with who said so, by who cuts selects, and taken back', async () => {
    const { id } = await addClip(rig);
    const put = await rig.as('editor').put(clipAt(id, '/aside'), { reason: 'shaky' });
    expect([put.status, put.body.aside]).toEqual([200, { reason: 'shaky', byId: rig.as('editor').userId, at: expect.any(String) }]);
    expect((await rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } }))).toMatchObject({ kind: 'clip.put-aside', subject: id, rows: { clips: [put.body] } });
    expect((await rig.as('editor').get(rig.at('/footage/ids?selects=aside'))).body).toEqual([id]);
    expect((await rig.as('editor').del(clipAt(id, '/aside'))).body.aside).toBeNull();
    expect((await rig.as('editor').get(rig.at('/footage/ids?selects=aside'))).body).toEqual([]);
  });

  it('is refused for a reason that is none, for a clip that is gone, and for who may not cut', async () => {
    const { id } = await addClip(rig, { removedAt: new Date() });
    const refused = async (person: 'editor' | 'field', body: object) => {
      const answer = await rig.as(person).put(clipAt(id, '/aside'), body);
      return [answer.status, answer.body.code];
    };
    expect(await refused('editor', { reason: 'ugly' })).toEqual([400, 'bad-input']);
    expect(await refused('editor', { reason: 'soft' })).toEqual([409, 'removed-meanwhile']);
    expect(await refused('field', { reason: 'soft' })).toEqual([403, 'not-allowed']);
    expect((await rig.db.clip.findUniqueOrThrow({ where: { id } })).asideReason).toBeNull();
  });
});
