import type { Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import type { Item } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { eventually } from '../fixtures/eventually.ts';
import { axeFinds, named, startOutlinePage, type OutlinePage } from '../fixtures/outline-page.ts';
import type { Person, Rig } from '../fixtures/rig.ts';

let stand: OutlinePage;
let rig: Rig;

beforeAll(async () => {
  stand = await startOutlinePage();
  rig = stand.rig;
});
afterAll(() => stand?.close());
beforeEach(() => rig.db.item.deleteMany());

const open = (person: Person): Promise<Page> => stand.open(person);
const make = (...line: Parameters<OutlinePage['make']>): Promise<Item> => stand.make(...line);
const page = async (): Promise<string[]> => outlineOrder(await listItems(rig.db, rig.film)).map(({ label, row }) => `${label} ${row.name}`);
const reads = (expected: string[]) => eventually(async () => expect(await page()).toEqual(expected));

/** Every line of the page as it is read: number, name, and whether it is the one with the focus. */
const lineNames = (on: Page) => on.locator('li input.name').evaluateAll((fields) => fields.map((field) => (field as HTMLInputElement).value));
const shows = (on: Page, names: string[]) => eventually(async () => expect(await lineNames(on)).toEqual(names));
const focused = (on: Page) => on.evaluate(() => ({ name: document.activeElement?.getAttribute('aria-label'), value: (document.activeElement as HTMLInputElement).value, caret: (document.activeElement as HTMLInputElement).selectionStart }));

it('is written by keyboard alone, and is on the server as it is on the page', async () => {
  const on = await open('editor');
  await on.getByRole('button', { name: 'Write the first sequence' }).press('Enter');
  await on.keyboard.type('Opening: low water');
  await on.keyboard.press('Enter');
  await on.keyboard.type('The crossing');
  await on.keyboard.press('Control+Enter');
  await on.keyboard.type('Wheels in the wet');
  await on.keyboard.press('Enter');
  await on.keyboard.type('Walkers');
  await on.keyboard.press('Enter');
  await reads(['1 Opening: low water', '2 The crossing', '2.1 Wheels in the wet', '2.2 Walkers']);
  await on.keyboard.press('Escape');
  await eventually(async () => expect((await focused(on)).name).toBe('Slot 2.2'));
  await on.keyboard.press('Control+Enter');
  await on.keyboard.type('The causeway');
  await on.keyboard.press('Control+Enter');
  await on.keyboard.type('Tide table');
  await on.keyboard.press('Tab');
  await on.keyboard.press('Enter');
  await reads(['1 Opening: low water', '2 The crossing', '2.1 Wheels in the wet', '2.2 Walkers', '2.3 The causeway', '2.3.1 Tide table']);
  await on.close();
});

it('moves lines by keyboard, keeps the focus on them, and brings a removed branch back', async () => {
  const one = await make('part', 'one', null);
  await make('slot', 'a', one);
  await make('part', 'two', null);
  const on = await open('editor');
  await named(on, 'Sequence 2').focus();
  await on.keyboard.press('Tab');
  await reads(['1 one', '1.1 a', '1.2 two']);
  await eventually(async () => expect(await focused(on)).toMatchObject({ name: 'Subsequence 1.2', value: 'two' }));
  await on.keyboard.press('Alt+ArrowUp');
  await reads(['1 one', '1.1 two', '1.2 a']);
  await eventually(async () => expect(await focused(on)).toMatchObject({ name: 'Subsequence 1.1', value: 'two' }));
  await on.keyboard.press('Shift+Tab');
  await reads(['1 one', '1.1 a', '2 two']);
  await eventually(async () => expect(await focused(on)).toMatchObject({ name: 'Sequence 2', value: 'two' }));
  await on.keyboard.press('ArrowUp');
  await on.keyboard.press('ArrowUp');
  await eventually(async () => expect(await focused(on)).toMatchObject({ value: 'one' }));
  await on.keyboard.press('Alt+Delete');
  await reads(['1 two']);
  await on.getByText('Removed: one, with 1 line in it.').waitFor();
  await on.getByRole('button', { name: 'Undo' }).press('Enter');
  await reads(['1 one', '1.1 a', '2 two']);
  await on.close();
});

it('lets Tab leave a name after Escape: no keyboard trap (WCAG 2.2, 2.1.2)', async () => {
  await make('part', 'one', null);
  const on = await open('editor');
  await named(on, 'Sequence 1').focus();
  await on.keyboard.press('Escape');
  await on.keyboard.press('Tab');
  expect(await focused(on)).toMatchObject({ name: 'Length of one' });
  await on.close();
});

it('reads lengths as people write them, says what does not add up, and why a length is not one', async () => {
  const crossing = await make('part', 'The crossing', null, { wish: { kind: 'fixed', frames: 240 } });
  await make('slot', 'Walkers', crossing);
  const on = await open('editor');
  await named(on, 'Slot 1.1').focus();
  await on.keyboard.press('End');
  await on.keyboard.press('ArrowRight');
  await on.keyboard.type('16s');
  await on.keyboard.press('Enter');
  // 16 s and 10 s at 24000/1001 are 383.6 and 239.8 frames.
  await eventually(async () => expect((await listItems(rig.db, rig.film)).find(({ name }) => name === 'Walkers')?.wish).toEqual({ kind: 'fixed', frames: 384 }));
  await on.getByRole('list', { name: /^Outline of/ }).getByText('The crossing is 6 s over.').waitFor();
  expect(await named(on, 'Length of Walkers').inputValue()).toBe('0:16');
  await named(on, 'Length of Walkers').fill('soon');
  await on.keyboard.press('Enter');
  await on.getByRole('alert').getByText('"soon" is not a length.').waitFor();
  await on.keyboard.press('Escape');
  expect(await named(on, 'Length of Walkers').inputValue()).toBe('0:16');
  await on.close();
});

it('shows the changes of others at once, and takes neither focus nor caret from who is typing', async () => {
  const one = await make('part', 'one', null);
  const mine = await make('slot', 'Walkers on the causeway', one);
  const two = await make('part', 'two', null);
  const [on, other] = [await open('editor'), await open('director')];
  await named(on, 'Slot 1.1').focus();
  await on.keyboard.press('Home');
  for (let i = 0; i < 7; i++) await on.keyboard.press('ArrowRight');
  await on.keyboard.type(' far away');
  await named(other, 'Sequence 1').fill('Uno');
  await named(other, 'Sequence 2').focus();
  await other.keyboard.press('Alt+ArrowUp');
  await shows(on, ['two', 'Uno', 'Walkers far away on the causeway']);
  expect((await rig.as('director').post(rig.at(`/items/${mine.id}/move`), { parentId: two.id, afterId: null })).status).toBe(200);
  await shows(on, ['two', 'Walkers far away on the causeway', 'Uno']);
  expect(await focused(on)).toEqual({ name: 'Slot 1.1', value: 'Walkers far away on the causeway', caret: 16 });
  await on.keyboard.type(', wet');
  await on.keyboard.press('ArrowUp');
  await shows(other, ['two', 'Walkers far away, wet on the causeway', 'Uno']);
  await Promise.all([on.close(), other.close()]);
});

it('loses no word when the part that is written in is removed by somebody else', async () => {
  const one = await make('part', 'one', null);
  await make('part', 'two', null);
  const on = await open('editor');
  await named(on, 'Sequence 1').focus();
  await on.keyboard.press('Control+Enter');
  await on.keyboard.type('Walkers');
  expect((await rig.as('director').del(rig.at(`/items/${one.id}`))).status).toBe(200);
  await shows(on, ['two']);
  await on.keyboard.press('Enter');
  await on.getByRole('alert').getByText('What you wrote is kept: “Walkers” now stands in two.').waitFor();
  await reads(['1 two', '1.1 Walkers']);
  await on.close();
});

it('puts the focus on the next line when somebody removes the one it was on', async () => {
  const one = await make('part', 'one', null);
  const slot = await make('slot', 'a', one);
  await make('slot', 'b', one);
  const on = await open('editor');
  await named(on, 'Slot 1.1').focus();
  expect((await rig.as('director').del(rig.at(`/items/${slot.id}`))).status).toBe(200);
  await eventually(async () => expect(await focused(on)).toMatchObject({ name: 'Slot 1.1', value: 'b' }));
  await on.close();
});

it('moves a line with the pointer to the place it shows, and undoes it', async () => {
  const one = await make('part', 'one', null);
  await make('slot', 'a', one);
  await make('slot', 'b', one);
  const two = await make('part', 'two', null);
  await make('slot', 'c', two);
  const on = await open('editor');
  const boxOf = async (name: string) => (await named(on, name).locator('xpath=ancestor::li').boundingBox())!;
  const grip = (await named(on, 'Slot 1.1').locator('xpath=ancestor::li').locator('.grip').boundingBox())!;
  const target = await boxOf('Slot 2.1');
  await on.mouse.move(grip.x + 5, grip.y + 5);
  await on.mouse.down();
  await on.mouse.move(target.x + 100, target.y + target.height - 3, { steps: 5 });
  await on.locator('li.after').waitFor();
  await on.mouse.up();
  await reads(['1 one', '1.1 b', '2 two', '2.1 c', '2.2 a']);
  await on.getByRole('button', { name: 'Undo' }).click();
  await reads(['1 one', '1.1 a', '1.2 b', '2 two', '2.1 c']);
  await on.close();
});

it('keeps words and roles, and shows a viewer the plan without anything to change it with', async () => {
  const one = await make('part', 'Low water', null);
  await make('slot', 'Bell', one, { wish: { kind: 'fixed', frames: 96 } });
  const on = await open('editor');
  await named(on, 'Slot 1.1').focus();
  await on.getByRole('button', { name: 'Words' }).press('Enter');
  await named(on, 'Must show').fill('the bell moving');
  await named(on, 'Comes in').fill('out of black');
  await named(on, 'Sequence 1').focus();
  await on.getByRole('button', { name: 'Role' }).press('Enter');
  await on.getByRole('combobox', { name: 'Role in the film' }).selectOption('opening');
  await eventually(async () => expect(await listItems(rig.db, rig.film)).toEqual(expect.arrayContaining([expect.objectContaining({ role: 'opening' }), expect.objectContaining({ mustShow: 'the bell moving', comesIn: 'out of black' })])));
  const looking = await open('viewer');
  await looking.getByText('the bell moving · in: out of black').waitFor();
  expect(await looking.getByRole('textbox').count()).toBe(0);
  expect(await looking.getByRole('region', { name: 'Outline' }).getByRole('button').allInnerTexts()).toEqual(['Copy as text', 'Copy as Markdown', 'Print', 'History']);
  await Promise.all([on.close(), looking.close()]);
});

it('fits a phone, also one that is turned while lines out of view remember how wide they were', async () => {
  const one = await make('part', 'Low water', null);
  await rig.as('editor').post(rig.at('/items/paste'), { place: { parentId: one.id, afterId: null }, lines: Array.from({ length: 60 }, (_, i) => ({ depth: 0, kind: 'slot', name: `Shot ${i} with a name that takes some room`, role: 'body', wish: { kind: 'open' }, mustShow: 'what it has to show', comesIn: '', goesOut: '' })) });
  const on = await open('editor');
  await on.getByRole('button', { name: 'New sequence at the end' }).scrollIntoViewIfNeeded();
  await on.setViewportSize({ width: 390, height: 844 });
  await eventually(async () => expect(await on.evaluate(() => document.documentElement.scrollWidth)).toBe(390));
  await on.close();
});

it('says the running-time map in words', async () => {
  const one = await make('part', 'Low water', null);
  await make('slot', 'Bell', one, { wish: { kind: 'fixed', frames: 96 } });
  await make('slot', 'Mud', one);
  const on = await open('editor');
  await on.getByText('The map in words').click();
  const rows = on.getByRole('table').getByRole('row');
  await eventually(async () => expect(await rows.count()).toBe(4));
  expect((await rows.allInnerTexts()).map((row) => row.split('\t').join(' | '))).toEqual([
    'Line | Begins | Length | Asked for | State | Picked',
    '1 Low water | 0:00 | 4:00 | nothing | sequence | nothing',
    '1.1 Bell | 0:00 | 0:04 | 0:04 | empty | nothing',
    '1.2 Mud | 0:04 | 3:56 | nothing | empty | nothing',
  ]);
  await on.close();
});

it('has nothing that axe finds, with lines, open words and a fault on the page', async () => {
  const one = await make('part', 'Low water', null, { role: 'opening', wish: { kind: 'fixed', frames: 48 } });
  await make('slot', 'Bell', one, { wish: { kind: 'fixed', frames: 96 }, mustShow: 'the bell' });
  const on = await open('editor');
  await named(on, 'Length of Bell').fill('never');
  await on.keyboard.press('Enter');
  await on.getByRole('button', { name: 'Words' }).click();
  await on.getByRole('button', { name: 'Slot below' }).click();
  expect(await axeFinds(on)).toEqual([]);
  await on.close();
});
