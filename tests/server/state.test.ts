// What a page is sent of a film: what every page needs, and clips whole as it looks at them.
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ClipsWhole, Snapshot } from '../../server/live/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
const clips: Record<'offered' | 'other' | 'removed', string> = { offered: '', other: '', removed: '' };
const stateOf = async (who: Person): Promise<Snapshot> => (await rig.as(who).get(rig.at('/state'))).body;
const wholeOf = async (who: Person, ids: string[]): Promise<ClipsWhole> => (await rig.as(who).get(rig.at(`/state/clips?${ids.map((id) => `id=${id}`).join('&')}`))).body;
const names = (rows: { id: string }[]) => rows.map(({ id }) => Object.entries(clips).find(([, clip]) => clip === id)?.[0] ?? id).sort();

beforeAll(async () => {
  rig = await startRig();
  const editor = rig.as('editor');
  for (const name of ['offered', 'other', 'removed'] as const) {
    const { id } = await addClip(rig);
    clips[name] = id;
    await editor.post(rig.at('/selects'), { clipId: id, in: 0, outExclusive: 20, label: name });
    await editor.post(rig.at('/notes'), { clipId: id, in: 3, text: `On ${name}` });
    await editor.post(rig.at(`/clips/${id}/seen`), { ranges: [[0, 5]] });
  }
  const part = (await editor.post(rig.at('/items'), { kind: 'part', name: 'The crossing', place: { parentId: null, afterId: null } })).body;
  const slot = (await editor.post(rig.at('/items'), { kind: 'slot', name: 'Boots', place: { parentId: part.id, afterId: null } })).body;
  await editor.post(rig.at('/notes'), { slotId: slot.id, text: 'On the slot' });
  const { rows } = await wholeOf('editor', [clips.offered]);
  const offer = (await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: rows.selects[0]!.id })).body;
  await editor.post(rig.at('/notes'), { offerId: offer.id, in: 4, text: 'On the offer' });
  await rig.db.clip.update({ where: { id: clips.removed }, data: { removedAt: new Date() } });
});
afterAll(() => rig.close());

describe('the state of a film', () => {
  it('has clips on offer with all that is on them, and notes on slots, and of other clips nothing', async () => {
    const { rows, seen } = await stateOf('editor');
    expect(names(rows.clips)).toEqual(['offered']);
    expect(rows.selects.map(({ label }) => label)).toEqual(['offered']);
    expect(rows.notes.map(({ text }) => text).sort()).toEqual(['On offered', 'On the offer', 'On the slot']);
    expect(names(seen)).toEqual(['offered']);
  });

  it('has files on their way and refused ones, not those that arrived', async () => {
    const file = { filmId: rig.film, userId: rig.as('field').userId, name: 'a.mov', bytes: 5, card: 'A001', relativePath: 'a.mov' };
    for (const state of ['arriving', 'arrived', 'refused', 'withdrawn'] as const) await rig.db.upload.create({ data: { ...file, id: `file-${state}`, state } });
    expect((await stateOf('field')).rows.uploads.map(({ id }) => id).sort()).toEqual(['file-arriving', 'file-refused']);
  });
});

describe('clips whole', () => {
  it('have their selects, notes and what was seen, as of the newest event', async () => {
    const { seq, rows, seen } = await wholeOf('assistant', [clips.other, clips.offered]);
    expect(seq).toBe((await stateOf('assistant')).seq);
    expect(names(rows.clips)).toEqual(['offered', 'other']);
    expect(rows.selects.map(({ label }) => label).sort()).toEqual(['offered', 'other']);
    expect(rows.notes.map(({ text }) => text).sort()).toEqual(['On offered', 'On other', 'On the offer']);
    expect(seen.map(({ mine, crew }) => [mine, crew])).toEqual([[[], [[0, 5]]], [[], [[0, 5]]]]);
  });

  it('leave out what is removed, of another film, or not there at all', async () => {
    const other = await rig.db.film.create({ data: { title: 'Another', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const foreign = await addClip(rig, { filmId: other.id });
    expect((await wholeOf('editor', [clips.removed, foreign.id, 'none'])).rows).toEqual({ clips: [], selects: [], notes: [] });
  });

  it('show a viewer what is on offer only', async () => {
    const { rows, seen } = await wholeOf('viewer', [clips.other, clips.offered]);
    expect(names(rows.clips)).toEqual(['offered']);
    expect(rows.clips[0]).toMatchObject({ bytes: 0, xxh64: '' });
    expect(rows.notes.map(({ text }) => text)).toEqual(['On the offer']);
    expect(seen).toEqual([]);
  });

  it.each(['', `?${Array.from({ length: 101 }, (_, n) => `id=${n}`).join('&')}`, '?id=a&more=1'])('refuse %o', async (query) => {
    const answer = await rig.as('editor').get(rig.at(`/state/clips${query}`));
    expect([answer.status, answer.body.code]).toEqual([400, 'bad-input']);
  });
});

it('tells whether a file is here: by its bytes among the clips, or as this very file kept with its card', async () => {
  const card = await rig.db.card.create({ data: { filmId: rig.film, name: 'A001' } });
  const { id } = await addClip(rig, { xxh64: '00000000000000aa', bytes: 7 });
  await rig.db.upload.create({ data: { id: 'kept', filmId: rig.film, userId: rig.as('field').userId, name: 'a.xml', relativePath: 'sub/a.xml', card: 'A001', cardId: card.id, bytes: 9, state: 'arrived', keptPath: 'beside/a.xml', sums: { xxh64: '00000000000000bb' } } });
  const here = async (query: string) => (await rig.as('field').get(rig.at(`/uploads/here?${query}`))).body.here;
  expect(await here('bytes=7&xxh64=00000000000000aa')).toBe(true);
  expect(await here('bytes=8&xxh64=00000000000000aa')).toBe(false);
  expect(await here('bytes=9&xxh64=00000000000000bb&card=A001&relativePath=sub%2Fa.xml')).toBe(true);
  expect(await here('bytes=9&xxh64=00000000000000bb&card=A002&relativePath=sub%2Fa.xml')).toBe(false);
  await rig.db.clip.update({ where: { id }, data: { removedAt: new Date() } });
  expect(await here('bytes=7&xxh64=00000000000000aa')).toBe(false);
  expect((await rig.as('field').get(rig.at('/uploads/here?bytes=7&xxh64=zz'))).body.code).toBe('bad-input');
});

it('counts the files of each card', async () => {
  const card = await rig.db.card.create({ data: { filmId: rig.film, name: 'B001' } });
  const file = { filmId: rig.film, userId: rig.as('field').userId, name: 'a.mov', bytes: 5, card: 'B001', cardId: card.id };
  await rig.db.upload.create({ data: { ...file, id: 'one', state: 'arrived' } });
  await rig.db.upload.create({ data: { ...file, id: 'two', state: 'arrived', keptPath: 'beside/two' } });
  await rig.db.upload.create({ data: { ...file, id: 'three', state: 'arriving' } });
  expect((await rig.as('assistant').get(rig.at('/cards/counts'))).body).toContainEqual({ cardId: card.id, clips: 1, beside: 1, arriving: 1 });
});
