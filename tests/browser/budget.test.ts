import type { Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, expect, it } from 'vitest';
import { listItems } from '../../server/outline/index.ts';
import { addClip } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { axeFinds, named, startOutlinePage, type OutlinePage } from '../fixtures/outline-page.ts';
import { addSelect } from '../fixtures/slots.ts';

let stand: OutlinePage;
beforeAll(async () => {
  stand = await startOutlinePage();
});
afterAll(() => stand?.close());
beforeEach(() => stand.rig.db.item.deleteMany());

const fixed = (frames: number) => ({ wish: { kind: 'fixed', frames } });
const wishOf = async (name: string) => (await listItems(stand.rig.db, stand.rig.film)).find((item) => item.name === name)?.wish;
const band = (on: Page, name: RegExp) => on.getByRole('group', { name: 'Running-time map' }).getByRole('button', { name });
const heldBand = (on: Page) => on.evaluate(() => document.activeElement?.getAttribute('aria-label') ?? '');

// The film of the rig has 5754 frames at 24000/1001, which is 4:00.
it('shows what gives way before a length is accepted: Escape takes it back, Enter accepts', async () => {
  const { make, open } = stand;
  await make('part', 'Low water', null);
  await make('part', 'The crossing', null);
  const on = await open('editor');
  const field = named(on, 'Length of Low water');
  await on.getByText('gets 2:00').first().waitFor();
  await field.fill('1:00');
  // Half of 5754 is 2877; 60 s are 1439 frames, so 1438 go over to the other, about 60 s; it then has 4315, one short of 3:00.
  const told = on.getByRole('status').filter({ hasText: 'would change' });
  await told.getByText('2 lengths would change.').waitFor();
  await told.getByText('The crossing gains 1:00: 2:59.23').waitFor();
  await told.getByText('Low water gives 1:00: 1:00').waitFor();
  await band(on, /The crossing, sequence, .*would gain/).waitFor();
  expect(await axeFinds(on)).toEqual([]);
  await field.press('Escape');
  await told.waitFor({ state: 'detached' });
  expect(await field.inputValue()).toBe('');
  expect(await wishOf('Low water')).toEqual({ kind: 'open' });
  await field.fill('25%');
  await field.press('Enter');
  await eventually(async () => expect(await wishOf('Low water')).toEqual({ kind: 'share', share: 2500 }));
  await on.getByRole('listitem').filter({ has: field }).getByText(/gets (1:00|0:59.23)/).waitFor();
  await field.fill('0:30 – 0:50');
  await field.press('Enter');
  await eventually(async () => expect(await field.inputValue()).toBe('0:30-0:50'));
  // 30 s and 50 s at 24000/1001 are 719.3 and 1198.8 frames.
  await eventually(async () => expect(await wishOf('Low water')).toEqual({ kind: 'range', min: 719, max: 1199 }));
  await on.close();
});

it('brings a person from what does not add up to the line it is about, by a press and by a key', async () => {
  const { make, open } = stand;
  const crossing = await make('part', 'The crossing', null, fixed(240));
  await make('slot', 'Walkers', crossing, fixed(384));
  await make('part', 'Closing: last ferry', null);
  const on = await open('editor');
  await on.getByRole('button', { name: 'The crossing is 6 s over.' }).click();
  await eventually(async () => expect(await named(on, 'Length of The crossing').evaluate((field) => field === document.activeElement)).toBe(true));
  await named(on, 'Sequence 2').focus();
  await on.keyboard.press('Alt+PageDown');
  await eventually(async () => expect(await named(on, 'Length of The crossing').evaluate((field) => field === document.activeElement)).toBe(true));
  await on.close();
});

it('goes from film to slot on the map by keyboard, and back', async () => {
  const { make, open } = stand;
  const low = await make('part', 'Low water', null);
  await make('slot', 'Mud', low);
  await make('slot', 'Bell', low);
  await make('part', 'The crossing', null);
  const on = await open('viewer');
  await band(on, /^Low water/).focus();
  await on.keyboard.press('ArrowDown');
  await eventually(async () => expect(await heldBand(on)).toMatch(/^Mud, slot, 1:20 from 0:00, empty/));
  await on.keyboard.press('ArrowRight');
  await eventually(async () => expect(await heldBand(on)).toMatch(/^Bell, slot, 1:20 from 1:20/));
  await on.keyboard.press('Enter');
  // The slot with a twentieth of its length on either side: 4 s.
  await on.getByText('Shown: 1:16 to 2:44.').waitFor();
  const [wide, whole] = await Promise.all([band(on, /^Bell/).boundingBox(), on.getByRole('group', { name: 'Running-time map' }).boundingBox()]);
  expect(wide!.width / whole!.width).toBeCloseTo(1 / 1.1, 1);
  await on.keyboard.press('ArrowUp');
  await eventually(async () => expect(await heldBand(on)).toMatch(/^Low water/));
  await on.keyboard.press('Escape');
  await on.getByText('Shown:').waitFor({ state: 'detached' });
  await band(on, /^The crossing/).dblclick();
  await on.getByText(/Shown: 2:3\d to 4:00/).waitFor();
  await on.getByRole('button', { name: 'Whole film' }).click();
  await on.getByText('Shown:').waitFor({ state: 'detached' });
  await on.close();
});

it('shows picks against the plan on the line and on the map', async () => {
  const { rig, make, open } = stand;
  const low = await make('part', 'Low water', null, fixed(192));
  const mud = await make('slot', 'Mud', low, fixed(96));
  await make('slot', 'Bell', low);
  // 120 frames at 24000/1001 are 5 s; the slot has 96, 4 s.
  const clip = await addClip(rig, { rateNum: 24000, rateDen: 1001, frames: 240 });
  const select = await addSelect(rig, { clip, in: 0, outExclusive: 120 });
  const offer = (await rig.as('editor').post(rig.at('/offers'), { slotId: mud.id, selectId: select.id })).body;
  const said = await rig.as('director').post(rig.at(`/offers/${offer.id}/verdict`), { verdict: 'approve', decisions: 0 });
  expect(said.status, JSON.stringify(said.body)).toBeLessThan(300);
  const on = await open('editor');
  await on.getByRole('listitem').filter({ has: named(on, 'Length of Mud') }).getByText('1 pick: 0:05 of 0:04, 0:01 over').waitFor();
  await on.getByRole('listitem').filter({ has: named(on, 'Length of Low water') }).getByText('1 pick: 0:05 of 0:04, 0:01 over').waitFor();
  await band(on, /^Mud, slot, .*approved, picked 0:05 of 0:04, 0:01 over/).waitFor();
  await band(on, /^Bell, slot, .*empty$/).waitFor();
  expect(await axeFinds(on)).toEqual([]);
  await on.close();
});

it('remarks on the shape, settles a remark, and puts one away for everybody until the facts change', async () => {
  const { rig, make, open } = stand;
  await rig.db.film.update({ where: { id: rig.film }, data: { dismissed: [] } });
  const low = await make('part', 'Low water', null);
  const mud = await make('slot', 'Mud', low);
  await make('part', 'Last ferry', null, { role: 'closing', ...fixed(240) });
  const on = await open('editor');
  const shape = on.getByRole('region', { name: 'Shape' });
  const other = await open('director');
  const others = other.getByRole('region', { name: 'Shape' });
  // 8 % of 5754 frames are 460.3, so 461; at 24000/1001 that is 19 s and 5 frames.
  await shape.getByText('The closing has 0:10; this film asks for 0:19.05 at least.', { exact: true }).waitFor();
  await shape.getByRole('button', { name: 'Make Low water the opening' }).click();
  await others.getByText('No opening', { exact: true }).waitFor({ state: 'detached' });
  await shape.getByRole('button', { name: 'Ask for as much' }).click();
  await eventually(async () => expect(await wishOf('Last ferry')).toEqual({ kind: 'fixed', frames: 461 }));
  await shape.getByRole('button', { name: /^Put away.*Mud does not say/ }).click();
  await others.getByText('Put away (1)').waitFor();
  await shape.getByRole('button', { name: /^Go to it.*Last ferry has nothing in it/ }).click();
  await eventually(async () => expect(await named(on, 'Sequence 2').evaluate((field) => field === document.activeElement)).toBe(true));
  expect(await axeFinds(on)).toEqual([]);
  // Said and unsaid again: the facts are the same, and so is the verdict on them.
  for (const mustShow of ['the flats', '']) await rig.as('editor').patch(rig.at(`/items/${mud.id}`), { mustShow });
  await others.getByText('Put away (1)').waitFor();
  // The director sets what the film asks for: 20 % are 1150.8 frames.
  await others.getByText('What this film asks for').click();
  await others.getByRole('textbox', { name: /^Closing/ }).fill('20');
  await others.getByRole('textbox', { name: /^Closing/ }).press('Enter');
  await shape.getByText('The closing has 0:19.05; this film asks for 0:48 at least.', { exact: true }).waitFor();
  await Promise.all([on.close(), other.close()]);
});
