import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Analysis } from '../../server/music/analysis/contract.ts';
import { markReady } from '../../server/music/outcome.ts';
import { addMark, addTrack } from '../fixtures/music.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { addItem } from '../fixtures/slots.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());
beforeEach(async () => {
  await rig.db.track.deleteMany({ where: { filmId: rig.film } });
});

const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });
const state = async (person: Parameters<Rig['as']>[0] = 'editor') => (await rig.as(person).get(rig.at('/state'))).body.rows;
const editor = () => rig.as('editor');

describe('tracks', () => {
  it('get their words and rights from who logs, removed and restored with their marks, each with its rows in the event', async () => {
    const track = await addTrack(rig);
    const mark = await addMark(rig, track, 500);
    const path = rig.at(`/tracks/${track.id}`);
    const changed = await rig.as('assistant').patch(path, { title: ' Low water, slower ', maker: 'Anneke', licence: 'letter of 3 May, film and festivals', rights: 'kept' });
    expect(changed.body).toMatchObject({ title: 'Low water, slower', maker: 'Anneke', rights: 'kept' });
    expect(await lastEvent()).toMatchObject({ kind: 'track.changed', rows: { tracks: [changed.body] } });
    expect((await rig.as('assistant').patch(path, { title: '  ' })).body.code).toBe('bad-input');
    expect((await rig.as('assistant').patch(path, { rights: 'perhaps' })).body.code).toBe('bad-input');
    expect((await rig.as('assistant').del(path)).body.removedAt).not.toBeNull();
    expect(await state()).toMatchObject({ tracks: [], marks: [] });
    expect((await rig.as('assistant').patch(path, { title: 'Gone' })).body.code).toBe('removed-meanwhile');
    await rig.as('assistant').post(`${path}/restore`);
    expect((await lastEvent()).rows).toMatchObject({ tracks: [{ id: track.id, removedAt: null }], marks: [{ id: mark.id }] });
    expect(await state()).toMatchObject({ tracks: [changed.body], marks: [{ id: mark.id, atMs: 500, confidence: 0.8, byId: null }] });
  });

  it('are not shown to a viewer, nor their marks and ties', async () => {
    const track = await addTrack(rig);
    await addMark(rig, track, 500);
    expect(await state('viewer')).toMatchObject({ tracks: [], marks: [], ties: [] });
  });

  it('one is locked at most; who locks says what was locked on their screen, and both rows are told', async () => {
    const [one, other] = [await addTrack(rig), await addTrack(rig, { title: 'Market waltz' })];
    const lock = (id: string, instead: string | null) => editor().post(rig.at(`/tracks/${id}/lock`), { instead });
    expect((await rig.as('assistant').post(rig.at(`/tracks/${one.id}/lock`), { instead: null })).status).toBe(403);
    expect((await lock(one.id, null)).body.locked).toBe(true);
    expect((await lock(other.id, null)).body).toMatchObject({ code: 'locked-meanwhile', tracks: [{ id: one.id }] });
    expect((await lock(other.id, one.id)).body.locked).toBe(true);
    const { tracks } = (await lastEvent()).rows as { tracks: { id: string; locked: boolean }[] };
    expect(tracks.map(({ id, locked }) => [id, locked])).toEqual([[other.id, true], [one.id, false]]);
    expect((await editor().del(rig.at(`/tracks/${other.id}`))).body.code).toBe('track-locked');
    expect((await editor().del(rig.at(`/tracks/${one.id}/lock`))).body.code).toBe('locked-meanwhile');
    expect((await editor().del(rig.at(`/tracks/${other.id}/lock`))).body.locked).toBe(false);
  });

  it('two people who lock two tracks at once: one succeeds, the other learns why', async () => {
    const tracks = [await addTrack(rig), await addTrack(rig), await addTrack(rig)];
    const answers = await Promise.all(tracks.map(({ id }) => editor().post(rig.at(`/tracks/${id}/lock`), { instead: null })));
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409, 409]);
    expect(await rig.db.track.count({ where: { locked: true } })).toBe(1);
  });

  it('of another film answer as if there were none', async () => {
    const film = await rig.db.film.create({ data: { title: 'Another film', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const foreign = await addTrack(rig, { filmId: film.id });
    expect((await editor().patch(rig.at(`/tracks/${foreign.id}`), { title: 'Mine' })).status).toBe(404);
    expect((await editor().get(rig.at(`/tracks/${foreign.id}/media/${foreign.version}/play.m4a`))).status).toBe(404);
  });
});

describe('marks', () => {
  it('are added, taken away and brought back in sets; the undo of a set is the set turned round', async () => {
    const track = await addTrack(rig);
    const beat = await addMark(rig, track, 1000);
    const change = (body: object) => editor().post(rig.at(`/tracks/${track.id}/marks`), body);
    const made = (await change({ remove: [beat.id], add: [{ kind: 'beat', atMs: 500 }, { kind: 'named', atMs: 2000, untilMs: 4000, name: ' the gulls ' }] })).body;
    expect(made.added).toMatchObject([
      { kind: 'beat', atMs: 500, untilMs: null, confidence: null, byId: editor().userId },
      { kind: 'named', atMs: 2000, untilMs: 4000, name: 'the gulls' },
    ]);
    expect(await lastEvent()).toMatchObject({ kind: 'marks.changed', subject: track.id, rows: { marks: [...made.removed, ...made.added] } });
    expect((await change({ remove: [beat.id] })).body.code).toBe('removed-meanwhile');
    const undone = (await change({ remove: made.added.map(({ id }: { id: string }) => id), restore: [beat.id] })).body;
    expect(undone.restored).toMatchObject([{ id: beat.id, atMs: 1000, byId: null, confidence: 0.8 }]);
    expect((await state()).marks).toMatchObject([{ id: beat.id }]);
    expect((await change({ restore: [beat.id] })).body.code).toBe('not-found');
  });

  it('nothing of a set is done when one of it cannot be', async () => {
    const track = await addTrack(rig);
    const answer = await editor().post(rig.at(`/tracks/${track.id}/marks`), { add: [{ kind: 'hit', atMs: 10 }, { kind: 'hit', atMs: 60_000 }] });
    expect(answer.body).toMatchObject({ code: 'bad-range', fields: [{ field: 'add.1.atMs' }] });
    expect(await rig.db.mark.count({ where: { trackId: track.id } })).toBe(0);
  });

  it('of the analysis become a person’s who moves or names them', async () => {
    const track = await addTrack(rig);
    const hit = await addMark(rig, track, 1000, { kind: 'hit' });
    const moved = await rig.as('assistant').patch(rig.at(`/marks/${hit.id}`), { atMs: 1020 });
    expect(moved.body).toMatchObject({ atMs: 1020, kind: 'hit', confidence: null, byId: rig.as('assistant').userId });
    expect((await rig.as('field').patch(rig.at(`/marks/${hit.id}`), { atMs: 1 })).status).toBe(403);
    expect((await editor().patch(rig.at(`/marks/${hit.id}`), { untilMs: 900 })).body.code).toBe('bad-range');
    expect((await editor().patch(rig.at('/marks/none'), { atMs: 1 })).body.code).toBe('not-found');
  });

  it('wait until the track has a length', async () => {
    const track = await addTrack(rig, { state: 'received', lengthMs: null, version: null });
    expect((await editor().post(rig.at(`/tracks/${track.id}/marks`), { add: [{ kind: 'hit', atMs: 0 }] })).body.code).toBe('track-not-ready');
  });

  it('a doubled beat of a long track is one change', async () => {
    const track = await addTrack(rig, { lengthMs: 600_000 });
    const add = Array.from({ length: 2400 }, (_, n) => ({ kind: 'beat', atMs: n * 250 }));
    const answer = await editor().post(rig.at(`/tracks/${track.id}/marks`), { add });
    expect([answer.status, answer.body.added.length]).toEqual([200, 2400]);
    expect(((await lastEvent()).rows as { marks: unknown[] }).marks).toHaveLength(2400);
  });
});

describe('what an analysis hears', () => {
  const hears = (beats: number[]): Analysis => ({
    version: 1,
    lengthMs: 60_000,
    pulse: 0.9,
    tempo: [{ atMs: 0, bpm: 96, confidence: 0.8 }],
    beats: beats.map((atMs, n) => ({ atMs, strength: 0.5, confidence: 0.7, inBar: (n % 4) + 1 })),
    hits: [],
    builds: [{ fromMs: 2000, toMs: 6000, riseDb: 9, confidence: 0.4 }],
    turns: [],
    silences: [],
    loudness: { integratedLufs: -18, truePeakDbtp: -2, rangeLu: 4 },
  });
  const analysed = async (id: string, analysis: Analysis) => {
    await rig.db.track.update({ where: { id }, data: { state: 'working', version: null } });
    return markReady(rig.db, id, { version: 'again', lengthMs: 60_000, analysis });
  };

  it('becomes marks of nobody with their sureness, told in one event; heard anew, they give way, and a person’s and a tied one stay', async () => {
    const track = await addTrack(rig, { locked: true });
    expect(await analysed(track.id, hears([625, 1250, 1875, 2500]))).toBe(true);
    const told = (await lastEvent()).rows as { tracks: { pulse: number; tempo: unknown[] }[]; marks: { id: string; kind: string; atMs: number }[] };
    expect(told.tracks).toMatchObject([{ id: track.id, state: 'ready', pulse: 0.9, tempo: [{ bpm: 96 }], integratedLufs: -18, rangeLu: 4 }]);
    expect((await state()).marks).toEqual(told.marks.toSorted((a, b) => a.atMs - b.atMs));
    expect(told.marks[0]).toMatchObject({ kind: 'beat', atMs: 625, inBar: 1, confidence: 0.7, strength: 0.5, byId: null });
    const at = (ms: number) => told.marks.find(({ atMs }) => atMs === ms)!;
    await editor().patch(rig.at(`/marks/${at(1250).id}`), { atMs: 1300 });
    await editor().post(rig.at(`/tracks/${track.id}/marks`), { remove: [at(1875).id] });
    const part = await addItem(rig, 'part', 'The crossing');
    await editor().put(rig.at(`/items/${part.id}/tie`), { markId: at(2500).id, instead: null });

    await analysed(track.id, hears([600, 1290, 1880, 2510, 3125]));
    const now = (await state()).marks as { id: string; kind: string; atMs: number; byId: string | null }[];
    expect(now.filter(({ kind }) => kind === 'beat').map(({ atMs, byId }) => [atMs, byId])).toEqual([[600, null], [1300, editor().userId], [2500, null], [3125, null]]);
    expect((await state()).ties).toMatchObject([{ itemId: part.id, markId: at(2500).id }]);
  });

  it('of a track that another attempt has taken up is left alone', async () => {
    const track = await addTrack(rig);
    expect(await markReady(rig.db, track.id, { version: 'late', lengthMs: 60_000, analysis: hears([1]) })).toBe(false);
    expect(await rig.db.mark.count({ where: { trackId: track.id } })).toBe(0);
  });
});

describe('ties', () => {
  const tie = (item: { id: string }, markId: string, instead: string | null = null) => editor().put(rig.at(`/items/${item.id}/tie`), { markId, instead });

  it('bind a line to one mark of the locked track; another takes its place, and it can be untied', async () => {
    const track = await addTrack(rig, { locked: true });
    const [first, second] = [await addMark(rig, track, 1000), await addMark(rig, track, 2000)];
    const part = await addItem(rig, 'part', 'The crossing');
    const slot = await addItem(rig, 'slot', 'Half way', part.id);
    const made = (await tie(part, first.id)).body;
    expect(made).toMatchObject({ itemId: part.id, markId: first.id, removedAt: null });
    expect((await tie(slot, first.id)).status).toBe(200);
    expect((await tie(part, second.id)).body).toMatchObject({ code: 'tied-meanwhile', ties: [{ id: made.id }] });
    const other = (await tie(part, second.id, made.id)).body;
    expect((await lastEvent()).rows).toMatchObject({ ties: [{ id: made.id }, { id: other.id, removedAt: null }] });
    expect((await editor().del(rig.at(`/ties/${made.id}`))).body.code).toBe('tied-meanwhile');
    expect((await editor().del(rig.at(`/ties/${other.id}`))).body.removedAt).not.toBeNull();
    expect((await rig.as('assistant').put(rig.at(`/items/${part.id}/tie`), { markId: first.id, instead: null })).status).toBe(403);
  });

  it('go with their mark and come back with it, unless the line was tied elsewhere meanwhile', async () => {
    const track = await addTrack(rig, { locked: true });
    const [one, two, three] = [await addMark(rig, track, 1000), await addMark(rig, track, 2000), await addMark(rig, track, 3000)];
    const [a, b] = [await addItem(rig, 'part', 'A'), await addItem(rig, 'part', 'B')];
    const [ofA, ofB] = [(await tie(a, one.id)).body, (await tie(b, two.id)).body];
    const change = (body: object) => editor().post(rig.at(`/tracks/${track.id}/marks`), body);
    expect((await change({ remove: [one.id, two.id] })).body.ties.map(({ id }: { id: string }) => id).sort()).toEqual([ofA.id, ofB.id].sort());
    await tie(b, three.id);
    expect((await change({ restore: [one.id, two.id] })).body.ties).toMatchObject([{ id: ofA.id, removedAt: null }]);
    expect((await state()).ties.map(({ itemId, markId }: { itemId: string; markId: string }) => [itemId, markId]).sort()).toEqual([[a.id, one.id], [b.id, three.id]].sort());
  });

  it('are made with the locked track only, and with a line and a mark that are there', async () => {
    const track = await addTrack(rig);
    const mark = await addMark(rig, track, 1000);
    const part = await addItem(rig, 'part', 'The crossing');
    expect((await tie(part, mark.id)).body.code).toBe('track-not-locked');
    await rig.db.track.update({ where: { id: track.id }, data: { locked: true } });
    expect((await tie(part, 'none')).body.code).toBe('not-found');
    expect((await tie({ id: 'none' }, mark.id)).body.code).toBe('not-found');
    await rig.db.item.update({ where: { id: part.id }, data: { removedAt: new Date() } });
    expect((await tie(part, mark.id)).body.code).toBe('removed-meanwhile');
  });

  it('two people tie one line at once: it has one tie', async () => {
    const track = await addTrack(rig, { locked: true });
    const marks = [await addMark(rig, track, 1000), await addMark(rig, track, 2000)];
    const part = await addItem(rig, 'part', 'The crossing');
    const answers = await Promise.all(marks.map(({ id }) => tie(part, id)));
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
  });
});
