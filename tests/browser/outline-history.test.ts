import { afterAll, beforeAll, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import type { Item } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startOutlinePage, type OutlinePage } from '../fixtures/outline-page.ts';

let outline: OutlinePage;
beforeAll(async () => {
  outline = await startOutlinePage();
});
afterAll(() => outline?.close());

const written = async (): Promise<string[]> => outlineOrder(await listItems(outline.rig.db, outline.rig.film)).map(({ label, row }) => `${label} ${row.name}`);

it('looks back by keyboard, compares in words, names a state, brings it back and undoes that', async () => {
  const { rig } = outline;
  const [editor, director] = [rig.as('editor'), rig.as('director')];
  const make = async (kind: string, name: string, parentId: string | null): Promise<Item> => (await editor.post(rig.at('/items'), { kind, name, place: { parentId, afterId: null } })).body;
  const crossing = await make('part', 'The crossing', null);
  const wheels = await make('slot', 'Wheels', crossing.id);
  const driver = await make('slot', 'Driver', crossing.id);
  const market = await make('part', 'Market night', null);
  await director.patch(rig.at(`/items/${wheels.id}`), { name: 'Wheels in the wet', wish: { kind: 'fixed', frames: 96 } });
  await director.post(rig.at(`/items/${wheels.id}/move`), { parentId: market.id, afterId: null });
  await director.del(rig.at(`/items/${driver.id}`));
  const now = await written();

  const on = await outline.open('editor');
  await on.getByRole('button', { name: 'History' }).press('Enter');
  const moments = on.getByRole('list', { name: 'Moments, newest first' }).getByRole('button');
  await moments.first().waitFor();
  expect((await moments.allInnerTexts()).map((text) => text.split('\n').at(-1))).toEqual(['Test director removed 1 line, renamed 1, moved 1, changed the length of 1 (Driver, Wheels in the wet …)', 'Test editor added 4 lines (The crossing, Wheels, Driver …)']);
  await moments.nth(1).press('Enter');
  await on.getByText('4 differences from then to: The outline now').waitFor();
  expect(await on.getByRole('group', { name: 'Differences' }).getByRole('listitem').allInnerTexts()).toEqual([
    'Removed: “Driver”, from “The crossing”.',
    'Renamed: “Wheels”, now “Wheels in the wet”.',
    'Moved: “Wheels in the wet”, from “The crossing”, now in “Market night”, first.',
    'Length: “Wheels in the wet”, from none to 0:04.',
  ]);
  expect((await on.getByRole('group', { name: 'The lines as they stood' }).getByRole('listitem').allInnerTexts()).map((text) => text.split('\n')[1])).toEqual(['Market night', 'The crossing', 'Driver', 'Wheels']);
  await on.getByRole('textbox', { name: 'Name of this state' }).fill('As pitched');
  await on.keyboard.press('Enter');
  await on.getByRole('heading', { name: 'As it stood: “As pitched”' }).waitFor();
  expect(await axeFindings(on)).toEqual([]);
  await on.getByRole('button', { name: 'Bring this state back' }).press('Enter');
  await eventually(async () => expect(await written()).toEqual(['1 Market night', '2 The crossing', '2.1 Driver', '2.2 Wheels']));
  // What the director does meanwhile is not taken back with it.
  await director.patch(rig.at(`/items/${wheels.id}`), { name: 'Wheels at dawn' });
  await on.getByRole('button', { name: 'Undo' }).click();
  await on.getByText('Taken back, but for what was changed since: “Wheels at dawn”.').waitFor();
  expect(await written()).toEqual(now.map((line) => line.replace('in the wet', 'at dawn')));

  // Forty moments later the named state is at hand all the same.
  const { lastSeq } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
  await rig.db.event.createMany({ data: Array.from({ length: 40 }, (_, i) => ({ filmId: rig.film, seq: lastSeq + 1 + i, actorId: (i % 2 ? director : editor).userId, kind: 'item.changed', subject: market.id, rows: { items: [{ ...market, name: `Market night ${i}` }] } })) });
  await rig.db.film.update({ where: { id: rig.film }, data: { lastSeq: lastSeq + 40 } });
  const looking = await outline.open('viewer');
  await looking.getByRole('button', { name: 'History' }).click();
  const shown = looking.getByRole('list', { name: 'Moments, newest first' }).getByRole('listitem');
  await eventually(async () => expect(await shown.count()).toBe(31));
  await looking.getByRole('group', { name: 'Named states' }).getByRole('button', { name: /As pitched/ }).press('Enter');
  await looking.getByRole('heading', { name: 'As it stood: “As pitched”' }).waitFor();
  expect(await axeFindings(looking)).toEqual([]);
  await looking.getByRole('button', { name: 'Earlier moments' }).press('Enter');
  await looking.getByRole('list', { name: 'Moments, newest first' }).getByRole('button', { name: /As pitched/ }).waitFor();
  expect(await looking.getByRole('button', { name: 'Earlier moments' }).count()).toBe(0);
  expect(await looking.getByRole('button', { name: 'Bring this state back' }).count()).toBe(0);
  await Promise.all([on.close(), looking.close()]);
});
