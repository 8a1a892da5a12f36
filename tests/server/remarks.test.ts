import { afterAll, beforeAll, expect, it } from 'vitest';
import { addItem } from '../fixtures/slots.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let slot: { id: string };
beforeAll(async () => {
  rig = await startRig();
  const part = await addItem(rig, 'part', 'The crossing');
  slot = await addItem(rig, 'slot', 'Walkers', part.id);
});
afterAll(() => rig.close());

const put = (body: object) => rig.as('editor').put(rig.at('/remarks'), body);
const kept = async () => (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).dismissed;

it('puts a remark away for everybody, tells them, and brings it back', async () => {
  const key = `shows-nothing ${slot.id}`;
  const answer = await put({ key, dismissed: true });
  expect(answer).toMatchObject({ status: 200, body: { id: rig.film, dismissed: [key] } });
  expect(await rig.db.event.findFirst({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } })).toMatchObject({ kind: 'film.changed', rows: { film: [answer.body] } });
  expect((await put({ key, dismissed: true })).body.dismissed).toEqual([key]);
  expect((await put({ key, dismissed: false })).body.dismissed).toEqual([]);
});

it('keeps both when two people put two away at once', async () => {
  const keys = ['no-opening film', 'no-closing film'];
  await Promise.all(keys.map((key) => put({ key, dismissed: true })));
  expect((await kept()).sort()).toEqual(keys.sort());
});

it('drops what does not apply any more, and refuses to put such away', async () => {
  await put({ key: `shows-nothing ${slot.id}`, dismissed: true });
  await rig.db.item.update({ where: { id: slot.id }, data: { mustShow: 'three walkers' } });
  expect(await put({ key: `shows-nothing ${slot.id}`, dismissed: true })).toMatchObject({ status: 409, body: { code: 'remark-gone' } });
  await put({ key: 'no-opening film', dismissed: false });
  expect(await kept()).toEqual(['no-closing film']);
});

it('refuses a key of nothing, and who may not change the outline', async () => {
  expect(await put({ key: '', dismissed: true })).toMatchObject({ status: 400, body: { code: 'bad-input' } });
  expect((await rig.as('viewer').put(rig.at('/remarks'), { key: 'no-closing film', dismissed: true })).status).toBe(403);
  expect((await rig.as('stranger').put(rig.at('/remarks'), { key: 'no-closing film', dismissed: true })).status).toBe(404);
});

it('takes what the film asks for, and refuses what it cannot be', async () => {
  const director = rig.as('director');
  expect((await director.patch(rig.at(''), { closingShare: 1000, shortestShot: 18 })).body).toMatchObject({ closingShare: 1000, shortestShot: 18 });
  for (const wrong of [{ closingShare: -1 }, { closingShare: 10_001 }, { shortestShot: 0 }]) expect(await director.patch(rig.at(''), wrong)).toMatchObject({ status: 400, body: { code: 'bad-input' } });
});
