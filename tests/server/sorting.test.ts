// Sorting by what the files know, facts of many clips in one change, and the clocks of cameras.
import { mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Clip, Proposal } from '../../server/footage/contract.ts';
import { startProxyWorker } from '../../server/proxies/index.ts';
import { addClip, makeSource, receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());
beforeEach(() => rig.db.clip.deleteMany({}));

const clips = async (): Promise<Clip[]> => (await rig.as('assistant').get(rig.at('/clips'))).body;
const one = async (id: string) => (await clips()).find((clip) => clip.id === id)!;
const sorting = async (): Promise<Proposal[]> => (await rig.as('assistant').get(rig.at('/clips/sorting'))).body;
const change = (changes: object[]) => rig.as('assistant').patch(rig.at('/clips'), { changes });
const events = () => rig.db.event.count({ where: { filmId: rig.film } });
const noted = (text: string, zone: number | null = null) => ({ notedAt: new Date(text), capturedAt: new Date(text), notedZone: zone, capturedZone: zone });

describe('sorting', () => {
  it('proposes camera, card and day from reel, name, model and time, each with its reason', async () => {
    const reel = await addClip(rig, { name: 'clip.mov', reel: 'B003R2EC' });
    const name = await addClip(rig, { name: 'A002C006_141024_R2EC.mov' });
    const phone = await addClip(rig, { name: 'VID_20260530_182044.mp4', model: 'Pocket 7' });
    const late = await addClip(rig, { name: 'x.mp4', ...noted('2026-05-30T23:30:00Z', 120) });
    const found = (id: string) => sorting().then((all) => Object.fromEntries(all.filter(({ clipId }) => clipId === id).map(({ fact, to }) => [fact, to])));
    expect(await found(reel.id)).toEqual({ camera: 'B', card: 'B003' });
    expect(await found(name.id)).toEqual({ camera: 'A', card: 'A002', shootDay: '2014-10-24' });
    expect(await found(phone.id)).toEqual({ camera: 'Pocket 7', shootDay: '2026-05-30' });
    expect(await found(late.id)).toEqual({ shootDay: '2026-05-31' });
    expect((await sorting()).find(({ clipId, fact }) => clipId === reel.id && fact === 'camera')?.why).toBe('its reel is B003R2EC');
  });

  it('never proposes anything of what a person set, and follows it for the rest of the card', async () => {
    const set = await addClip(rig, { name: 'A002C001_141024_R2EC.mov', card: 'A002' });
    const other = await addClip(rig, { name: 'A002C002_141024_R2EC.mov', card: 'A002' });
    await rig.as('assistant').patch(rig.at(`/clips/${set.id}`), { camera: 'D', shootDay: null });
    expect((await one(set.id)).byHand).toEqual(['camera', 'shootDay']);
    const all = await sorting();
    expect(all.filter(({ clipId }) => clipId === set.id)).toEqual([]);
    expect(all.filter(({ clipId }) => clipId === other.id).map(({ fact, to, why }) => [fact, to, why])).toEqual([
      ['camera', 'D', 'the other clips of card A002 are camera D'],
      ['shootDay', '2014-10-24', 'its name says so'],
    ]);
  });

  it('proposes a location near one that a person named, and none far from it or between machines', async () => {
    const at = (latitude: number, longitude: number) => ({ latitude, longitude });
    const named = await addClip(rig, { name: 'quay.mov', ...at(53.7, 7.5) });
    // A ten-thousandth of a degree of latitude is 11.1 m anywhere.
    const near = await addClip(rig, { name: 'near.mov', ...at(53.7005, 7.5) });
    const far = await addClip(rig, { name: 'far.mov', ...at(53.71, 7.5) });
    expect(await sorting()).toEqual([]);
    await change([{ id: named.id, location: 'The quay' }]);
    expect(await sorting()).toEqual([{ clipId: near.id, byHand: [], fact: 'location', from: '', to: 'The quay', why: 'it was captured 56 m from quay.mov' }]);
    // What was sorted is no person's word, so it draws nothing after it.
    await change([{ id: near.id, location: 'The quay', byHand: [] }]);
    await rig.db.clip.update({ where: { id: far.id }, data: at(53.7025, 7.5) });
    expect((await sorting()).filter(({ clipId }) => clipId === far.id)).toEqual([]);
  });

  it('is measured in as well: a clip that comes in goes by its own data, unless its sender said otherwise', async () => {
    const dir = mkdtempSync(join(tmpdir(), 'rushlight-sorting-'));
    const worker = await startProxyWorker(rig.ground);
    try {
      await rig.as('assistant').put(rig.at('/clocks'), { camera: 'A', moments: [], zone: 120 });
      const metadata = { creation_time: '2026-05-30T23:10:00Z', location: '+53.7000+007.5000+003.000/' };
      const free = await receive(rig.ground, rig.film, await makeSource(join(dir, 'A004C002_260530_R2EC.mov'), { seconds: 0.4, size: '160x90', sound: false, metadata }));
      const said = await receive(rig.ground, rig.film, await makeSource(join(dir, 'A004C003_260530_R2EC.mov'), { seconds: 0.4, size: '160x90', sound: false, metadata }), { camera: 'B', byHand: ['camera'] });
      await eventually(async () => expect((await clips()).map(({ state }) => state)).toEqual(['ready', 'ready']));
      expect(await one(free.id)).toMatchObject({ camera: 'A', shootDay: '2026-05-31', capturedZone: 120, notedZone: null, byHand: [], place: { latitude: 53.7, longitude: 7.5 } });
      expect(await one(said.id)).toMatchObject({ camera: 'B', shootDay: '2026-05-30', capturedZone: null });
    } finally {
      await worker.stop();
      await rig.as('assistant').put(rig.at('/clocks'), { camera: 'A', moments: [], zone: null });
      await rm(dir, { recursive: true, force: true });
    }
  });
});

describe('facts of many clips', () => {
  it('are set in one change, and one change brings everything back, hands included', async () => {
    const made = await Promise.all(Array.from({ length: 30 }, (_, n) => addClip(rig, { name: `${n}.mov`, location: n % 2 ? 'Quay' : '', byHand: n % 2 ? ['location'] : [] })));
    const before = await clips();
    const count = await events();
    const { body } = await change(made.map(({ id }) => ({ id, location: 'Oyster beds' })));
    expect(body.clips).toBe(30);
    expect(await events()).toBe(count + 1);
    expect(new Set((await clips()).map(({ location, byHand }) => `${location} ${byHand.join()}`))).toEqual(new Set(['Oyster beds location']));
    expect(body.previous).toEqual(before.map(({ id, location, byHand }) => ({ id, location, byHand })));
    await change(body.previous);
    expect(await clips()).toEqual(before);
  });

  it('all or none: one that is gone, unknown or wrong leaves everything as it was', async () => {
    const [a, b] = [await addClip(rig), await addClip(rig, { removedAt: new Date() })];
    const answers = [
      await change([{ id: a.id, location: 'x' }, { id: b.id, location: 'x' }]),
      await change([{ id: a.id, location: 'x' }, { id: 'none', location: 'x' }]),
      await change([{ id: a.id, location: 'x' }, { id: a.id, location: 'y' }]),
      await change([{ id: a.id, shootDay: '2026-02-31' }]),
      await change([{ id: a.id, frames: 3 }]),
      await change([]),
    ];
    expect(answers.map(({ status, body }) => [status, body.code])).toEqual([[409, 'removed-meanwhile'], [404, 'not-found'], [400, 'bad-input'], [400, 'bad-input'], [400, 'bad-input'], [400, 'bad-input']]);
    expect(await one(a.id)).toMatchObject({ location: '', byHand: [] });
    expect((await rig.as('field').patch(rig.at('/clips'), { changes: [{ id: a.id, location: 'x' }] })).status).toBe(403);
  });
});

describe('the clock of a camera', () => {
  const setUp = async () => ({
    first: await addClip(rig, { name: '1.mov', camera: 'C', ...noted('2025-01-01T08:00:00Z'), shootDay: new Date('2025-01-01') }),
    last: await addClip(rig, { name: '2.mov', camera: 'C', ...noted('2025-01-01T18:00:00Z'), shootDay: new Date('2025-01-01') }),
    hand: await addClip(rig, { name: '3.mov', camera: 'C', ...noted('2025-01-01T09:00:00Z'), shootDay: new Date('2026-06-01'), byHand: ['shootDay'] }),
    other: await addClip(rig, { name: '4.mov', camera: 'A', ...noted('2026-05-30T08:00:00Z') }),
  });

  it('is previewed without writing, lands as one change, leaves days set by hand, and is taken back as one', async () => {
    const { first, last, hand, other } = await setUp();
    const before = await clips();
    const count = await events();
    // Frame 120 of a clip at 24000/1001 is 5.005 s in: the slate's clock reads 14:00:05.005 at a place two hours east.
    const moments = [{ clipId: first.id, frame: 120, trueAt: '2026-05-30T22:30:05.005Z' }];
    const preview = await rig.as('assistant').post(rig.at('/clocks/preview'), { camera: 'C', moments, zone: 120 });
    expect(preview.body).toMatchObject({ offsetMs: Date.parse('2026-05-30T22:30:00Z') - Date.parse('2025-01-01T08:00:00Z'), driftPpm: 0 });
    expect(preview.body.clips.map((clip: { name: string; after: string; dayAfter: string }) => [clip.name, clip.after, clip.dayAfter])).toEqual([
      ['1.mov', '2026-05-30T22:30:00.000Z', '2026-05-31'],
      ['3.mov', '2026-05-30T23:30:00.000Z', '2026-06-01'],
      ['2.mov', '2026-05-31T08:30:00.000Z', '2026-05-31'],
    ]);
    expect([await clips(), await events()]).toEqual([before, count]);

    const set = await rig.as('assistant').put(rig.at('/clocks'), { camera: 'C', moments, zone: 120 });
    expect(set.body).toEqual({ previous: { camera: 'C', moments: [], zone: null }, clips: 3 });
    expect(await events()).toBe(count + 1);
    expect(await one(first.id)).toMatchObject({ capturedAt: '2026-05-30T22:30:00.000Z', capturedZone: 120, shootDay: '2026-05-31', notedAt: '2025-01-01T08:00:00.000Z' });
    expect(await one(hand.id)).toMatchObject({ capturedAt: '2026-05-30T23:30:00.000Z', shootDay: '2026-06-01' });
    expect(await one(other.id)).toMatchObject({ capturedAt: '2026-05-30T08:00:00.000Z' });
    expect((await rig.as('field').get(rig.at('/clocks'))).body).toEqual([{ camera: 'C', moments, zone: 120 }]);

    // A second moment ten hours on: the clock has lost three seconds since.
    const two = [...moments, { clipId: last.id, frame: 0, trueAt: '2026-05-31T08:30:03Z' }];
    const again = await rig.as('assistant').put(rig.at('/clocks'), { camera: 'C', moments: two, zone: 120 });
    expect(again.body.previous).toEqual({ camera: 'C', moments, zone: 120 });
    expect((await one(last.id)).capturedAt).toBe('2026-05-31T08:30:03.000Z');

    await rig.as('assistant').put(rig.at('/clocks'), again.body.previous);
    expect((await one(last.id)).capturedAt).toBe('2026-05-31T08:30:00.000Z');
    await rig.as('assistant').put(rig.at('/clocks'), set.body.previous);
    expect(await clips()).toEqual(before);
  });

  it('goes with the camera: a clip put to another camera goes by that one’s clock', async () => {
    const { first, other } = await setUp();
    await rig.as('assistant').put(rig.at('/clocks'), { camera: 'C', moments: [{ clipId: first.id, frame: 0, trueAt: '2025-01-01T09:00:00Z' }], zone: null });
    await change([{ id: other.id, camera: 'C' }]);
    expect(await one(other.id)).toMatchObject({ capturedAt: '2026-05-30T09:00:00.000Z', shootDay: '2026-05-30' });
    await rig.as('assistant').put(rig.at('/clocks'), { camera: 'C', moments: [], zone: null });
  });

  it.each([
    ['a clip of another camera', 'moments.0.clipId', (c: Record<string, { id: string }>) => [{ clipId: c['other']!.id, frame: 0, trueAt: '2026-05-30T08:00:00Z' }]],
    ['a frame past the end', 'moments.0.frame', (c: Record<string, { id: string }>) => [{ clipId: c['first']!.id, frame: 240, trueAt: '2026-05-30T08:00:00Z' }]],
    ['moments too close', 'moments', (c: Record<string, { id: string }>) => [0, 1].map((frame) => ({ clipId: c['first']!.id, frame, trueAt: '2026-05-30T08:00:00Z' }))],
    ['a clock that no clock is', 'moments', (c: Record<string, { id: string }>) => [{ clipId: c['first']!.id, frame: 0, trueAt: '2026-05-30T08:00:00Z' }, { clipId: c['last']!.id, frame: 0, trueAt: '2026-05-31T08:00:00Z' }]],
    ['a time that is none', 'moments.0.trueAt', (c: Record<string, { id: string }>) => [{ clipId: c['first']!.id, frame: 0, trueAt: 'half past eight' }]],
  ])('refuses %s, and nothing is written', async (_, field, momentsOf) => {
    const moments = momentsOf(await setUp());
    for (const answer of [await rig.as('assistant').put(rig.at('/clocks'), { camera: 'C', moments, zone: null }), await rig.as('assistant').post(rig.at('/clocks/preview'), { camera: 'C', moments, zone: null })]) {
      expect([answer.status, answer.body.code]).toEqual([400, 'bad-input']);
      expect(answer.body.fields[0].field).toBe(field);
    }
    expect(await rig.db.clock.count()).toBe(0);
  });

  it('thousands of clips in one change', async () => {
    await rig.db.clip.createMany({
      data: Array.from({ length: 3000 }, (_, n) => ({ filmId: rig.film, name: `${n}.mov`, originalPath: `many/${n}`, bytes: 1n, xxh64: n.toString(16).padStart(16, '0'), uploadedById: 'test', camera: 'M', rateNum: 25, rateDen: 1, frames: 100, ...noted('2026-05-30T08:00:00Z') })),
    });
    const [{ id }] = (await clips()) as [Clip];
    const set = await rig.as('assistant').put(rig.at('/clocks'), { camera: 'M', moments: [{ clipId: id, frame: 0, trueAt: '2026-05-30T08:00:30Z' }], zone: 60 });
    expect(set.body.clips).toBe(3000);
    expect(await rig.db.clip.count({ where: { camera: 'M', capturedAt: new Date('2026-05-30T08:00:30Z'), capturedZone: 60 } })).toBe(3000);
    expect((await change((await clips()).map((clip) => ({ id: clip.id, location: 'Everywhere' })))).body.clips).toBe(3000);
  });
});
