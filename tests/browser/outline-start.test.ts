import { afterAll, beforeAll, beforeEach, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import { listItems } from '../../server/outline/index.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startOutlinePage, type OutlinePage } from '../fixtures/outline-page.ts';

let outline: OutlinePage;
beforeAll(async () => {
  outline = await startOutlinePage();
});
afterAll(() => outline?.close());
beforeEach(() => outline.rig.db.item.deleteMany({ where: { filmId: outline.rig.film } }));

const written = async (): Promise<string[]> => outlineOrder(await listItems(outline.rig.db, outline.rig.film)).map(({ label, row }) => `${label} ${row.name} ${row.wish.kind === 'fixed' ? row.wish.frames : ''}`.trim());

it('starts from numbers: 3:00 as 5 × 3 × 7', async () => {
  const on = await outline.open('editor');
  await on.getByRole('textbox', { name: 'Running time' }).fill('3:00');
  await on.keyboard.press('Tab');
  await on.getByText('125 lines, 105 shots of 1.7 s on average.').waitFor();
  expect(await axeFindings(on)).toEqual([]);
  await on.getByRole('button', { name: 'Put the shape in' }).click();
  await eventually(async () => expect(await written()).toHaveLength(125));
  // Three minutes at 24000/1001 are 4315.7 frames.
  expect((await outline.rig.db.film.findUniqueOrThrow({ where: { id: outline.rig.film } })).targetFrames).toBe(4316);
  await on.close();
});

it('starts from the outline of an earlier film of the person, and offers no other film', async () => {
  const { rig } = outline;
  const film = (title: string) => ({ title, rateNum: 25, rateDen: 1, targetFrames: 100 });
  const mine = await rig.db.film.create({ data: { ...film('Low water'), members: { create: { userId: rig.as('editor').userId, role: 'viewer' } } } });
  const theirs = await rig.db.film.create({ data: film('Not for the editor') });
  const part = await rig.db.item.create({ data: { filmId: mine.id, kind: 'part', name: 'Ebb', orderKey: '1', targetFrames: 250 } });
  await rig.db.item.create({ data: { filmId: mine.id, kind: 'slot', name: 'Bell', orderKey: '1', parentId: part.id, mustShow: 'the bell' } });
  expect((await rig.as('editor').get(`/api/films/${theirs.id}/state`)).status).toBe(404);
  const on = await outline.open('editor');
  const choice = on.getByRole('combobox', { name: 'An earlier film of yours' });
  await choice.waitFor();
  expect(await choice.getByRole('option').allInnerTexts()).toEqual(['Choose a film', 'Low water']);
  await choice.selectOption('Low water');
  await on.getByRole('button', { name: 'Copy its outline' }).click();
  // Ten seconds at 24000/1001 are 239.8 frames.
  await eventually(async () => expect(await written()).toEqual(['1 Ebb 240', '1.1 Bell']));
  expect(await rig.db.item.count({ where: { filmId: mine.id } })).toBe(2);
  await on.close();
});
