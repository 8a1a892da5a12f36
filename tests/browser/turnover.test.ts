// The Turnover room in real Chromium: the check leads to where things are mended, follows the film, and the files come down.
import { readFile } from 'node:fs/promises';
import { unzipSync } from 'fflate';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
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

it('says what is to be looked at, follows what others do, and leads there', async () => {
  const slot = await addSlot(rig, 'Gulls');
  const page = await open('editor');
  await page.getByText('1.1 Gulls has no take; a hole is left in its place.').waitFor();
  const select = await addSelect(rig);
  const offer = (await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body;
  await page.getByText(/which nobody has approved/).first().waitFor();
  await rig.as('director').post(rig.at(`/offers/${offer.id}/verdict`), { verdict: 'approve', decisions: 0 });
  await page.getByText('1 of 1 shot is approved.').waitFor();
  expect(await axeFindings(page)).toEqual([]);
  await page.getByLabel('Handles, in frames of each clip').fill('500');
  await page.keyboard.press('Tab');
  await page.getByText(/500 are asked for/).first().waitFor();
  await page.getByRole('link', { name: /Picks.*500 are asked for/ }).press('Enter');
  await page.waitForURL(`**/picks/${slot.id}`);
  await page.context().close();
});

it('gives the files, each alone and all as one archive', async () => {
  const page = await open('assistant', 'turnover', 390);
  const whole = page.waitForEvent('download');
  await page.getByRole('link', { name: 'All of it as one archive, with checksums' }).click();
  const files = unzipSync(new Uint8Array(await readFile(await (await whole).path())));
  const one = page.waitForEvent('download');
  await page.getByRole('link', { name: 'string-out.edl' }).click();
  expect((await readFile(await (await one).path())).equals(Buffer.from(files['string-out.edl']!))).toBe(true);
  expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
  await page.context().close();
});

it('is not shown to who may not turn over', async () => {
  const page = await open('field', 'footage');
  await page.getByRole('link', { name: 'Ledger' }).waitFor();
  expect(await page.getByRole('link', { name: 'Turnover' }).count()).toBe(0);
  await page.context().close();
});
