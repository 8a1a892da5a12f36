import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig.close());

const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });

describe('selects', () => {
  it('are cut, adjusted, circled, removed and restored, each with its whole row in the event', async () => {
    const clip = await addClip(rig);
    const assistant = rig.as('assistant');
    const made = await assistant.post(rig.at('/selects'), { clipId: clip.id, in: 10, outExclusive: 50 }, { 'x-rushlight-client': 'tab-1' });
    expect(made.status).toBe(201);
    expect(made.body).toMatchObject({ clipId: clip.id, in: 10, outExclusive: 50, circled: false, label: '', madeById: assistant.userId, removedAt: null });
    expect(await lastEvent()).toMatchObject({ kind: 'select.made', subject: made.body.id, client: 'tab-1', actorId: assistant.userId, rows: { selects: [made.body] } });

    const path = rig.at(`/selects/${made.body.id}`);
    const changed = await assistant.patch(path, { in: 12, circled: true, label: 'Boots in the mud' });
    expect(changed.body).toEqual({ ...made.body, in: 12, circled: true, label: 'Boots in the mud' });
    const removed = await assistant.del(path);
    expect(removed.body.removedAt).not.toBeNull();
    expect((await lastEvent()).rows).toEqual({ selects: [removed.body] });
    expect((await assistant.get(rig.at(`/state/clips?id=${clip.id}`))).body.rows.selects).toEqual([]);
    expect((await assistant.patch(path, { in: 1 })).body.code).toBe('removed-meanwhile');
    expect((await assistant.del(path)).body.code).toBe('removed-meanwhile');
    expect((await assistant.post(`${path}/restore`)).body).toEqual(changed.body);
    expect((await assistant.get(rig.at(`/state/clips?id=${clip.id}`))).body.rows.selects).toEqual([changed.body]);
  });

  it('are found by beginnings of words of clip and label, circled ones first', async () => {
    const clip = await addClip(rig, { name: 'B007_0042.mov', location: 'Oyster beds', camera: 'B' });
    const cut = async (label: string, circled: boolean) => (await rig.as('editor').post(rig.at('/selects'), { clipId: clip.id, in: 0, outExclusive: 5, label, circled })).body;
    const [plain, favourite] = [await cut('Raking, wide', false), await cut('Raking, hands', true)];
    const find = async (words: string, more = '') => (await rig.as('editor').get(rig.at(`/selects?words=${encodeURIComponent(words)}${more}`))).body;
    expect(await find('oyster RAK')).toMatchObject({ total: 2, found: [{ select: favourite, clip: { id: clip.id, name: clip.name } }, { select: plain }] });
    expect(await find('oyster rak', '&limit=1')).toMatchObject({ total: 2, found: [{ select: favourite }] });
    expect((await find('b007 circled')).found.map(({ select }: { select: { id: string } }) => select.id)).toEqual([favourite.id]);
    expect(await find('oyster akin')).toEqual({ total: 0, found: [] });
    expect(await find('…')).toEqual({ total: 0, found: [] });
    expect((await rig.as('editor').get(rig.at('/selects'))).body.code).toBe('bad-input');
  });

  it('may hold the whole clip, and one frame', async () => {
    const clip = await addClip(rig, { frames: 240 });
    for (const range of [{ in: 0, outExclusive: 240 }, { in: 239, outExclusive: 240 }])
      expect((await rig.as('editor').post(rig.at('/selects'), { clipId: clip.id, ...range })).body).toMatchObject(range);
  });

  it.each([
    [{ in: 50, outExclusive: 10 }, 'outExclusive'],
    [{ in: 50, outExclusive: 50 }, 'outExclusive'],
    [{ in: 200, outExclusive: 241 }, 'outExclusive'],
  ])('refuse %o and say which field', async (range, field) => {
    const clip = await addClip(rig, { frames: 240 });
    const answer = await rig.as('editor').post(rig.at('/selects'), { clipId: clip.id, ...range });
    expect([answer.status, answer.body.code, answer.body.fields[0].field]).toEqual([400, 'bad-range', field]);
  });

  it('keep in before out when only one of them is moved', async () => {
    const clip = await addClip(rig, { frames: 240 });
    const { body } = await rig.as('editor').post(rig.at('/selects'), { clipId: clip.id, in: 10, outExclusive: 50 });
    expect((await rig.as('editor').patch(rig.at(`/selects/${body.id}`), { in: 60 })).body.code).toBe('bad-range');
    const both = await Promise.all([rig.as('editor').patch(rig.at(`/selects/${body.id}`), { in: 40 }), rig.as('director').patch(rig.at(`/selects/${body.id}`), { outExclusive: 30 })]);
    expect(both.map(({ status }) => status).sort()).toEqual([200, 400]);
  });

  it('refuse a clip that has not been measured, is removed, is of another film, or is none', async () => {
    const ask = (clipId: string) => rig.as('editor').post(rig.at('/selects'), { clipId, in: 0, outExclusive: 1 });
    expect((await ask((await addClip(rig, { state: 'received', frames: null })).id)).body.code).toBe('clip-not-ready');
    expect((await ask((await addClip(rig, { removedAt: new Date() })).id)).body.code).toBe('removed-meanwhile');
    const other = await rig.db.film.create({ data: { title: 'Another film', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const foreign = await ask((await addClip(rig, { filmId: other.id })).id);
    expect([foreign.status, foreign.body.code]).toEqual([404, 'not-found']);
    expect((await ask('none')).status).toBe(404);
  });
});
