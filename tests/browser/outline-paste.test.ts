import { readFileSync } from 'node:fs';
import type { Page } from 'playwright-core';
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
beforeEach(() => outline.rig.db.item.deleteMany());

const written = async (): Promise<string[]> => outlineOrder(await listItems(outline.rig.db, outline.rig.film)).map(({ label, row }) => `${label} ${row.name}`);
const reads = (expected: string[]) => eventually(async () => expect(await written()).toEqual(expected));
const fixture = (file: string) => readFileSync(new URL(`../fixtures/outlines/${file}`, import.meta.url), 'utf8');

/** Pastes as the keyboard does, wherever the focus is. Answers whether the page left it to the field. */
const paste = (on: Page, text: string) =>
  on.evaluate((text) => {
    const clipboardData = new DataTransfer();
    clipboardData.setData('text/plain', text);
    return (document.activeElement ?? document.body).dispatchEvent(new ClipboardEvent('paste', { clipboardData, bubbles: true, cancelable: true }));
  }, text);
/** Pastes and puts in by keyboard. */
async function pasteIn(on: Page, text: string): Promise<void> {
  await paste(on, text);
  await on.getByRole('textbox', { name: 'Text' }).press('Control+Enter');
}
const preview = (on: Page) => on.getByRole('group', { name: 'The lines as they will stand' }).getByRole('listitem');

it('shows a pasted outline as it will stand, puts it in as one change, and takes it back as one', async () => {
  const on = await outline.open('editor');
  await paste(on, fixture('30-mixed-everything.md'));
  await on.getByText('10 lines: 4 parts, 6 slots').waitFor();
  // Paste, Enter: the button that puts it in has the focus.
  await eventually(async () => expect(await on.evaluate(() => document.activeElement?.textContent?.trim())).toBe('Put it in'));
  expect((await preview(on).allInnerTexts()).slice(0, 3).map((text) => text.split('\n'))).toEqual([['Sequence', 'Opening: low water', 'opening', '0:40'], ['Slot', 'Mud and sky', '0:12'], ['Slot', 'Boots', '0:06']]);
  expect(await written()).toEqual([]);
  expect(await axeFindings(on)).toEqual([]);
  await on.getByRole('checkbox', { name: /^Leave out the line that holds all others: “.The Last Ferry.”$/ }).uncheck();
  await on.getByText('11 lines: 5 parts, 6 slots').waitFor();
  await on.getByRole('checkbox').check();
  await on.getByRole('button', { name: 'Put it in' }).click();
  await reads(['1 Opening: low water', '1.1 Mud and sky', '1.2 Boots', '2 The oyster beds', '2.1 Raking', '2.1.1 Hands and rake', '2.1.2 Basket fills', '2.2 First taste', '3 Closing: last ferry', '3.1 Dark water']);
  await eventually(async () => expect(await on.evaluate(() => (document.activeElement as HTMLInputElement).value)).toBe('Opening: low water'));
  await on.getByRole('button', { name: 'Undo' }).click();
  await reads([]);
  await on.close();
});

it('leaves a paste of one line to the field, and lands several after the line they were pasted on, or leaves them', async () => {
  const on = await outline.open('editor');
  await pasteIn(on, 'One\n\tBell\nTwo');
  await reads(['1 One', '1.1 Bell', '2 Two']);
  await on.getByRole('textbox', { name: 'Slot 1.1', exact: true }).focus();
  expect(await paste(on, 'just words\n')).toBe(true);
  expect(await paste(on, 'Rope 0:04\nGull')).toBe(false);
  await on.getByText('2 lines: 0 parts, 2 slots').waitFor();
  await on.getByRole('button', { name: 'Leave it' }).click();
  // What was put away is still in hand.
  await on.getByRole('button', { name: 'Read an outline in' }).click();
  expect(await on.getByRole('textbox', { name: 'Text' }).inputValue()).toBe('Rope 0:04\nGull');
  await on.getByRole('button', { name: 'Leave it' }).click();
  await on.getByRole('textbox', { name: 'Slot 1.1', exact: true }).focus();
  await paste(on, 'Rope 0:04\nGull');
  await on.getByRole('button', { name: 'Put it in' }).click();
  await reads(['1 One', '1.1 Bell', '1.2 Rope', '1.3 Gull', '2 Two']);
  await on.close();
});

it('answers while 2,000 lines are looked at and put in: only what is in view is on the page of the panel', async () => {
  const on = await outline.open('editor');
  const lines = Array.from({ length: 2000 }, (_, i) => (i % 10 === 0 ? `Sequence ${i / 10}` : `\tShot ${i} 0:0${i % 9 || 1}`));
  await paste(on, lines.join('\n'));
  await on.getByText('2000 lines: 200 parts, 1800 slots').waitFor();
  expect(await preview(on).count()).toBeLessThan(60);
  await on.getByRole('group', { name: 'The lines as they will stand' }).press('End');
  await preview(on).filter({ hasText: 'Shot 1999' }).waitFor();
  await on.getByRole('button', { name: 'Put it in' }).click();
  await eventually(async () => expect(await written()).toHaveLength(2000));
  // The line it starts at has the focus while most of the others are not there yet, and takes what is typed.
  await eventually(async () => expect(await on.evaluate(() => (document.activeElement as HTMLInputElement).value)).toBe('Sequence 0'));
  await on.keyboard.press('End');
  await on.keyboard.type(', typed at once');
  await eventually(async () => expect((await written())[0]).toBe('1 Sequence 0, typed at once'));
  await eventually(async () => expect(await on.locator('li input.name').count()).toBe(2000));
  await on.close();
});

it.each([
  ['a line of a megabyte', 'x'.repeat(1024 * 1024) + '\ny', 'This line has 1048576 characters'],
  ['200 levels', Array.from({ length: 200 }, (_, i) => '\t'.repeat(i) + 'level').join('\n'), 'an outline has 20 at most'],
])('says what keeps %s out', async (_, text, why) => {
  const on = await outline.open('editor');
  await paste(on, text);
  await on.getByRole('alert').getByText(why).first().waitFor();
  expect(await on.getByRole('button', { name: 'Put it in' }).isDisabled()).toBe(true);
  await on.close();
});

it('copies out by button and by key what reads back as the same outline, and prints a sheet a sequence a page', async () => {
  const on = await outline.open('editor');
  await on.context().grantPermissions(['clipboard-read', 'clipboard-write']);
  await pasteIn(on, 'Opening: low water 0:40\n\tBell 0:04\n\t\tMust show: the bell moving\n\tBoots\nThe crossing\n\tWheels');
  await reads(['1 Opening: low water', '1.1 Bell', '1.2 Boots', '2 The crossing', '2.1 Wheels']);
  const clipboard = () => on.evaluate(() => navigator.clipboard.readText());
  await on.getByRole('button', { name: 'Copy as text' }).click();
  await on.getByText('The outline is on the clipboard as text.').waitFor();
  expect(await clipboard()).toBe('Opening: low water (0:40)\n\tBell (0:04)\n\t\tMust show: the bell moving\n\tBoots\nThe crossing\n\tWheels\n');
  await on.keyboard.press('Alt+Shift+M');
  await on.getByText('The outline is on the clipboard as Markdown.').waitFor();
  expect(await clipboard()).toBe('# Opening: low water (0:40)\n\n- Bell (0:04)\n  > Must show: the bell moving\n- Boots\n\n# The crossing\n\n- Wheels\n');

  await on.emulateMedia({ media: 'print' });
  const sheet = on.locator('.outline-sheet');
  expect((await sheet.getByRole('listitem').allInnerTexts()).map((text) => text.replaceAll(/\s+/g, ' ').trim())).toEqual(['1 Opening: low water opening 0:40', '1.1 Bell 0:04 Must show the bell moving', '1.2 Boots (0:36) Slot must show', '2 The crossing (3:20)', '2.1 Wheels (3:20) Slot must show']);
  expect(await on.getByRole('button').count()).toBe(0);
  const pdf = (await on.pdf({ format: 'A4' })).toString('latin1');
  expect(pdf.match(/\/Type\s*\/Page\b/g)).toHaveLength(2);
  await on.close();
});
