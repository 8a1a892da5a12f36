import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { execFile } from 'node:child_process';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startProxyWorker, type ProxyWorker } from '../../server/proxies/index.ts';
import { addClip, receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { moment } from '../fixtures/sound-pairs.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

const unplaced = (...clipIds: string[]) => clipIds.map((clipId) => ({ clipId, offset: null, by: null }));
const change = (...changes: object[]) => rig.as('assistant').post(rig.at('/families'), { changes });
const kept = async () => (await rig.as('assistant').get(rig.at('/state'))).body.rows.families;
const clips = (count: number) => Promise.all(Array.from({ length: count }, () => addClip(rig)));
const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });

describe('joining and splitting', () => {
  it('makes a family, takes one out, and is taken back by what it answers', async () => {
    const [a, b, c] = await clips(3);
    const members = [
      { clipId: a!.id, offset: { num: 0, den: 1 }, by: 'hand' },
      { clipId: b!.id, offset: { num: -1001, den: 24_000 }, by: 'timecode' },
      { clipId: c!.id, offset: null, by: null },
    ];
    const joined = await change({ id: null, members, was: [] });
    expect(joined.status).toBe(200);
    const [family] = joined.body.families;
    expect(family.members).toEqual(expect.arrayContaining(members));
    expect(await lastEvent()).toMatchObject({ kind: 'families.changed', subject: family.id, rows: { families: [family] } });
    expect(await kept()).toEqual([family]);

    const split = await change({ id: family.id, members: members.slice(0, 2), was: members.map(({ clipId }) => clipId) });
    expect(split.body.families[0].members).toHaveLength(2);
    expect((await change(...split.body.previous)).body.families[0].members).toEqual(family.members);

    const undone = await change(...joined.body.previous.map((one: object) => ({ ...one, was: members.map(({ clipId }) => clipId) })));
    expect(undone.body.families[0].removedAt).not.toBeNull();
    expect(await kept()).toEqual([]);
    expect((await change(...undone.body.previous)).body.families[0]).toEqual(family);
  });

  it('moves a clip from one family to another in one change', async () => {
    const [a, b, c, d, e] = await clips(5);
    const one = (await change({ id: null, members: unplaced(a!.id, b!.id, c!.id), was: [] })).body.families[0];
    const other = (await change({ id: null, members: unplaced(d!.id, e!.id), was: [] })).body.families[0];
    const moved = await change({ id: one.id, members: unplaced(a!.id, b!.id), was: [a!.id, b!.id, c!.id] }, { id: other.id, members: unplaced(d!.id, e!.id, c!.id), was: [d!.id, e!.id] });
    expect(moved.body.families.map((family: { members: unknown[] }) => family.members.length)).toEqual([2, 3]);
    expect((await change(...moved.body.previous)).body.families.map((family: { members: unknown[] }) => family.members.length)).toEqual([3, 2]);
  });

  it('refuses what was decided on an older state, and changes nothing', async () => {
    const [a, b, c] = await clips(3);
    const family = (await change({ id: null, members: unplaced(a!.id, b!.id), was: [] })).body.families[0];
    const before = await kept();
    expect((await change({ id: family.id, members: [], was: [a!.id] })).body.code).toBe('changed-meanwhile');
    // A clip that is in a family which the change does not name.
    expect((await change({ id: null, members: unplaced(a!.id, c!.id), was: [] })).body.code).toBe('changed-meanwhile');
    expect(await kept()).toEqual(before);
  });

  it('refuses what no families can be in', async () => {
    const [a, b] = await clips(2);
    const fault = async (...changes: object[]) => {
      const { body } = await change(...changes);
      return [body.code, body.fields?.[0]?.field];
    };
    expect(await fault({ id: null, members: [], was: [] })).toEqual(['bad-input', 'changes.0.members']);
    expect(await fault({ id: null, members: unplaced(a!.id), was: [] })).toEqual(['bad-input', 'changes.0.members']);
    expect(await fault({ id: null, members: unplaced(a!.id, a!.id), was: [] })).toEqual(['bad-input', 'changes.0.members.1.clipId']);
    expect(await fault({ id: null, members: [...unplaced(a!.id), { clipId: b!.id, offset: { num: 1, den: 1 }, by: null }], was: [] })).toEqual(['bad-input', 'changes.0.members.1.by']);
    expect((await change({ id: null, members: unplaced(a!.id, 'none'), was: [] })).body.code).toBe('not-found');
    expect((await change({ id: 'none', members: [], was: [] })).body.code).toBe('not-found');
    expect((await rig.as('field').post(rig.at('/families'), { changes: [{ id: null, members: unplaced(a!.id, b!.id), was: [] }] })).body.code).toBe('not-allowed');
  });

  it('lets one of two win who join the same clip at once', async () => {
    const [a, b, c] = await clips(3);
    const answers = await Promise.all([change({ id: null, members: unplaced(a!.id, b!.id), was: [] }), change({ id: null, members: unplaced(a!.id, c!.id), was: [] })]);
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
  });
});

describe('cameras that rolled at once', () => {
  it('are those whose timecode and noted time overlap; a timecode that alone fits is not believed', async () => {
    const shootDay = new Date('2026-05-04');
    const at = (time: string) => new Date(`2026-05-04T${time}Z`);
    const common = { shootDay, rateNum: 25, rateDen: 1, frames: 250, startFrame: 900_000 };
    const a = await addClip(rig, { ...common, name: 'a', camera: 'A', capturedAt: at('10:00:00') });
    const b = await addClip(rig, { ...common, name: 'b', camera: 'B', capturedAt: at('10:00:03'), startFrame: 900_075 });
    await addClip(rig, { ...common, name: 'own', camera: 'A', capturedAt: at('10:00:01') });
    await addClip(rig, { ...common, name: 'evening', camera: 'B', capturedAt: at('18:00:00') });
    const near = await addClip(rig, { ...common, name: 'near', camera: 'D', capturedAt: at('10:01:00'), startFrame: 0 });
    const found = await rig.as('field').get(rig.at(`/clips/${a.id}/rolling`));
    expect(found.body.map(({ clip, by, offset }: { clip: { id: string }; by: string; offset: object }) => [clip.id, by, offset])).toEqual([
      [b.id, 'timecode', { num: 3, den: 1 }],
      [near.id, 'clock', null],
    ]);
  });
});

describe('sound of two proxies', () => {
  let worker: ProxyWorker;
  let folder: string;
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'rushlight-families-'));
    worker = await startProxyWorker(rig.ground);
  });
  afterAll(async () => {
    await worker.stop();
    await rm(folder, { recursive: true, force: true });
  });

  it('lays a clip that began 1.72 s later on the other to the frame, and says by how much its timecode is off', { timeout: 60_000 }, async () => {
    const sound = join(folder, 'sound.raw');
    await writeFile(sound, Buffer.from(moment('voices', 14, 5).buffer));
    const film = async (name: string, from: number, rate: string, timecode: string) => {
      const file = join(folder, name);
      const picture = ['-f', 'lavfi', '-i', `testsrc2=size=320x180:rate=${rate}:duration=10`];
      await promisify(execFile)('ffmpeg', ['-v', 'error', '-y', ...picture, '-f', 'f32le', '-ar', '48000', '-ac', '1', '-ss', String(from), '-i', sound, '-t', '10', '-c:v', 'libx264', '-preset', 'ultrafast', '-c:a', 'aac', '-timecode', timecode, file]);
      return receive(rig.ground, rig.film, file);
    };
    const [a, b] = [await film('a.mov', 0, '25', '10:00:00:00'), await film('b.mov', 1.72, '50', '10:00:01:40')];
    for (const { id } of [a, b]) await eventually(async () => expect((await rig.db.clip.findUniqueOrThrow({ where: { id } })).state).toBe('ready'));
    const { body } = await rig.as('assistant').get(rig.at(`/clips/${a.id}/alignment/${b.id}`));
    expect(body.timecode).toEqual({ offset: { num: 9, den: 5 } });
    expect(body.sound.told).toBe(true);
    expect(Math.abs(body.sound.offset.num / body.sound.offset.den - 1.72)).toBeLessThan(0.002);
    expect(body.differSeconds).toBeCloseTo(-0.08, 2);
  });

  it('says so of a clip without sound, and refuses one that has no proxy', async () => {
    const [a, b] = await clips(2);
    expect((await rig.as('assistant').get(rig.at(`/clips/${a!.id}/alignment/${b!.id}`))).body).toEqual({ timecode: null, sound: { told: false, why: 'no-sound' }, differSeconds: null });
    const waiting = await addClip(rig, { state: 'received' });
    expect((await rig.as('assistant').get(rig.at(`/clips/${a!.id}/alignment/${waiting.id}`))).body.code).toBe('clip-not-ready');
    expect((await rig.as('assistant').get(rig.at(`/clips/${a!.id}/alignment/${a!.id}`))).body.code).toBe('bad-input');
  });
});
