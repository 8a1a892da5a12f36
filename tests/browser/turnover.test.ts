// The Turnover room in real Chromium: the check leads to where things are mended, follows the film, and the files come down.
import { readFile } from 'node:fs/promises';
import { buffer } from 'node:stream/consumers';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openPromise } from 'yauzl';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { addClip } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { addSelect, addSlot } from '../fixtures/slots.ts';

let rig: Rig;
let browser: Browser;
const broken: string[] = [];
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  expect(broken).toEqual([]);
});

async function open(person: Person, room = 'turnover', width = 1300): Promise<Page> {
  const context = await browser.newContext({ viewport: { width, height: 900 } });
  await signIn(context, rig.as(person));
  const page = await context.newPage();
  page.on('pageerror', (error) => broken.push(error.stack ?? error.message));
  await page.goto(`${rig.url}/films/${rig.film}/${room}`);
  return page;
}

it('says what is to be seen to, follows what others do, leads there, and lets go with a reason', async () => {
  const slot = await addSlot(rig, 'Gulls');
  const page = await open('editor');
  await page.getByText('Gulls has no pick and nothing on offer').first().waitFor();
  const clip = await addClip(rig, { location: 'Oyster beds' });
  const select = await addSelect(rig, { clip });
  const offer = (await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body;
  await page.getByText(/goes along as the best of 1 offer/).first().waitFor();
  await rig.as('director').post(rig.at(`/offers/${offer.id}/verdict`), { verdict: 'approve', decisions: 0 });
  await page.getByText('1 of 1 slot has its pick').waitFor();
  await page.getByText('The permit for Oyster beds is missing.').first().waitFor();
  expect(await axeFindings(page)).toEqual([]);
  // Recorded as kept, it is not said any more; taken back, it is.
  await page.getByRole('button', { name: 'Record a permit for Oyster beds' }).press('Enter');
  await page.getByLabel('How it stands: Oyster beds').selectOption('kept');
  await eventually(async () => expect(await page.getByText('The permit for Oyster beds is missing.').count()).toBe(0));
  await page.getByRole('button', { name: /Let it go.* is not matched to a camera original/ }).press('Enter');
  await page.getByLabel('Why it can go').fill('There is only this file');
  await page.keyboard.press('Enter');
  await page.getByText(/Let go by Test editor: There is only this file/).waitFor();
  await page.keyboard.press('Control+z');
  await eventually(async () => expect(await page.getByText(/Let go by/).count()).toBe(0));
  await page.getByLabel('Handles, in frames of the film').fill('500');
  await page.keyboard.press('Tab');
  await page.getByText(/of 500 frames before it/).first().waitFor();
  await page.getByRole('link', { name: /Picks.*has less handle than asked/ }).press('Enter');
  await page.waitForURL(`**/picks/${slot.id}`);
  await page.context().close();
});

it('gives the files, each alone and all as one archive', async () => {
  const page = await open('assistant', 'turnover', 390);
  const whole = page.waitForEvent('download');
  await page.getByRole('link', { name: 'All of it as one archive, with checksums' }).click();
  const archive = await (await whole).path();
  const one = page.waitForEvent('download');
  await page.getByRole('link', { name: 'string-out.edl' }).click();
  const alone = await readFile(await (await one).path());
  const zip = await openPromise(archive);
  let inside: Buffer | null = null;
  for await (const entry of zip.eachEntry()) if (entry.fileName.endsWith('/string-out.edl')) inside = await buffer(await zip.openReadStreamPromise(entry));
  expect(inside?.equals(alone)).toBe(true);
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
  await page.context().close();
});

it('reads a later cut back, says what became of each slot, and marks what is in it', async () => {
  const page = await open('editor');
  const download = page.waitForEvent('download');
  await page.getByRole('link', { name: 'string-out.otio' }).click();
  await page.getByLabel(/^A later cut/).setInputFiles({ name: 'broken.otio', mimeType: 'application/json', buffer: Buffer.from('{"OTIO_SCHEMA": "Timeline.1"') });
  await page.getByRole('alert').filter({ hasText: /broken.otio/ }).waitFor();
  await page.getByLabel(/^A later cut/).setInputFiles({ name: 'cut.otio', mimeType: 'application/json', buffer: await readFile(await (await download).path()) });
  await page.getByText(/in as it was/).first().waitFor();
  await page.getByRole('button', { name: 'Mark 1 as cut in' }).press('Enter');
  await page.getByText(/marked as cut in/).first().waitFor();
  expect(await rig.db.offer.count({ where: { filmId: rig.film, cutInAt: { not: null } } })).toBe(1);
  await page.keyboard.press('Control+z');
  await eventually(async () => expect(await rig.db.offer.count({ where: { filmId: rig.film, cutInAt: { not: null } } })).toBe(0));
  expect(await axeFindings(page)).toEqual([]);
  await page.context().close();
});

it('is not shown to who may not turn over', async () => {
  const page = await open('field', 'footage');
  await page.getByRole('link', { name: 'Ledger' }).waitFor();
  expect(await page.getByRole('link', { name: 'Turnover' }).count()).toBe(0);
  await page.context().close();
});
