// Originals in real Chromium: a list is given, what is certain is joined, the rest is settled by hand and undone.
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { originalOf } from '../../server/originals/index.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { addClip } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';

let rig: Rig;
let browser: Browser;
let page: Page;
const ids: Record<string, string> = {};
beforeAll(async () => {
  rig = await startRig();
  const card = await rig.db.card.create({ data: { filmId: rig.film, name: 'A001' } });
  // 01:00:00:00 at 23.976 is frame 86400 (SMPTE ST 12-1:2014, non-drop).
  for (const [n, startFrame] of [86400, 86643, 90000].entries()) {
    const name = `A001C00${n + 1}_proxy.mp4`;
    ids[name] = (await addClip(rig, { name, card: 'A001', startFrame, probe: { startTimecode: 'set' } })).id;
  }
  browser = await startChromium();
  const context = await browser.newContext();
  await signIn(context, rig.as('assistant'));
  page = await context.newPage();
  await page.goto(`${rig.url}/films/${rig.film}/cards/${card.id}`);
  await page.getByRole('heading', { name: 'Camera originals' }).waitFor();
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
});

const found = async (n: number) => (await originalOf(rig.db, rig.film)).get(ids[`A001C00${n}_proxy.mp4`]!);

it('joins what is certain, shows what differs, and settles it with one undo', async () => {
  const rows = ['name,start timecode,rate,frames', 'A001C001.mov,01:00:00:00,23.976,240', 'A001C002.mov,01:00:10:00,23.976,243', 'elsewhere.mov,02:00:00:00,23.976,240'];
  await page.getByLabel('Add originals from a list').setInputFiles({ name: 'A001.csv', mimeType: 'text/csv', buffer: Buffer.from(`${rows.join('\r\n')}\r\n`) });
  await page.getByText('1 matched, 1 to decide, 1 without an original, 1 original without a clip.').waitFor();
  await page.getByText('the original starts 3 frames earlier; the original is 3 frames longer.').waitFor();
  expect(await found(1)).toMatchObject({ name: 'A001C001.mov', offset: 0 });
  expect(await axeFindings(page)).toEqual([]);

  await page.getByRole('button', { name: 'Join A001C002_proxy.mp4 to A001C002.mov' }).press('Enter');
  await page.getByText('Frame 0 of the clip is frame 3 of the original.').waitFor();
  expect(await found(2)).toMatchObject({ name: 'A001C002.mov', offset: 3 });
  await page.getByRole('button', { name: 'Undo' }).last().click();
  await eventually(async () => expect(await found(2)).toBeUndefined());

  await page.getByRole('button', { name: 'Join A001C003_proxy.mp4 to the chosen original' }).press('Enter');
  // Its timecode lies an hour away, so it tells no frame of it.
  await eventually(async () => expect(await found(3)).toMatchObject({ name: 'elsewhere.mov', offset: null }));
  await page.getByText('2 matched, 1 to decide, 0 without an original, 0 originals without a clip.').waitFor();
  if (process.env['ORIGINALS_PICTURES']) {
    await page.screenshot({ path: `${process.env['ORIGINALS_PICTURES']}/wide.png`, fullPage: true });
    await page.setViewportSize({ width: 390, height: 800 });
    await page.screenshot({ path: `${process.env['ORIGINALS_PICTURES']}/narrow.png`, fullPage: true });
  }
});
