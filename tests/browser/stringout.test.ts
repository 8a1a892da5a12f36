// The String-out room in real Chromium: frames by the number in the picture across all joins, and following what others do.
import { mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { shownFrame } from '#core/string-out.ts';
import { makeClip } from '../../server/demo/footage.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { makeStringOut } from '../../server/stringout/worker.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { numberShown } from '../fixtures/number-shown.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { addItem } from '../fixtures/slots.ts';

const FILM = { num: 24000, den: 1001 };
const RATES = [FILM, { num: 50, den: 1 }, FILM];
const CUTS = [{ in: 53, outExclusive: 63 }, { in: 31, outExclusive: 51 }, { in: 90, outExclusive: 100 }];
/** 20 frames at 50 are 0.4 s, which is 10 at 24000/1001. */
const STARTS = [0, 10, 20, 30];

let rig: Rig;
let browser: Browser;
let dir: string;
const slots: string[] = [];
const offers: string[] = [];
const broken: string[] = [];

const make = () => makeStringOut(rig.ground, rig.film, new AbortController().signal);
/** What the picture shows at a frame of the film. */
const expected = (frame: number): number => {
  const n = STARTS.findLastIndex((start) => start <= frame);
  return shownFrame(frame - STARTS[n]!, CUTS[n]!, RATES[n]!, FILM);
};

async function open(person: 'director' | 'editor' | 'viewer', query = ''): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1300, height: 900 } });
  await signIn(context, rig.as(person));
  const page = await context.newPage();
  page.on('pageerror', (error) => broken.push(error.stack ?? error.message));
  await page.goto(`${rig.url}/films/${rig.film}/string-out${query}`);
  return page;
}
const ribbon = (page: Page) => page.getByRole('region', { name: 'Ribbon' });

beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-stringout-'));
  await rig.db.film.update({ where: { id: rig.film }, data: { targetFrames: 48 } });
  const part = await addItem(rig, 'part', 'The crossing');
  for (const [n, rate] of RATES.entries()) {
    const file = join(dir, `A001C00${n + 1}.mov`);
    await makeClip({ name: `A001C00${n + 1}`, scene: 'causeway', rate, frames: 110, width: 640, height: 360 }, file, rig.ground.tools);
    const { id } = await receive(rig.ground, rig.film, file, { camera: 'A' });
    await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
    const slot = await addItem(rig, 'slot', ['Boots', 'Wheels', 'Gulls'][n]!, part.id);
    const select = (await rig.as('editor').post(rig.at('/selects'), { clipId: id, ...CUTS[n] })).body;
    slots.push(slot.id);
    offers.push((await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body.id);
  }
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
  expect(broken).toEqual([]);
});

it('says how far it is, and plays as soon as it is made; every frame is the expected one across all joins, forward and back', async () => {
  const page = await open('viewer');
  await page.getByText('The film is put together for the first time').waitFor();
  await make();
  await ribbon(page).waitFor();
  await eventually(async () => expect(await numberShown(page)).toBe(expected(0)));
  // From shot to shot, and over each join by single frames, back and forward.
  for (const start of STARTS.slice(1, 3)) {
    await page.keyboard.press('ArrowDown');
    await eventually(async () => expect(await numberShown(page)).toBe(expected(start)));
    for (const [key, frame] of [['ArrowLeft', start - 1], ['ArrowLeft', start - 2], ['ArrowRight', start - 1], ['ArrowRight', start], ['ArrowRight', start + 1]] as const) {
      await page.keyboard.press(key);
      await page.locator('output').getByText(String(frame), { exact: true }).waitFor();
      await eventually(async () => expect(await numberShown(page)).toBe(expected(frame)));
    }
  }
  await page.keyboard.press('Home');
  await eventually(async () => expect(await numberShown(page)).toBe(expected(0)));
  await page.getByRole('button', { name: 'Play', exact: true }).press('Enter');
  await page.locator('output').getByText('29', { exact: true }).waitFor();
  expect(await page.getByRole('button', { name: '+1 frame, in' }).count()).toBe(0);
  expect(await axeFindings(page)).toEqual([]);
  await page.context().close();
});

it('follows another take and a trim without a reload, and stays at the shot one looks at', async () => {
  const page = await open('director', '?frame=24');
  await eventually(async () => expect(await numberShown(page)).toBe(expected(24)));
  await ribbon(page).getByRole('button', { name: /Boots/ }).getByText('offered').waitFor();
  // Somebody else makes the first shot two frames longer: the frame looked at lies two frames later now.
  await rig.as('editor').patch(rig.at(`/offers/${offers[0]}`), { in: 53, outExclusive: 65 });
  await page.getByText('A newer one is being made').waitFor();
  await make();
  await page.locator('output').getByText('26', { exact: true }).waitFor();
  await eventually(async () => expect(await numberShown(page)).toBe(expected(24)));
  // This person trims the shot in hand, and takes it back.
  await page.getByRole('button', { name: '+1 frame, out' }).press('Enter');
  await eventually(async () => expect((await rig.db.offer.findUniqueOrThrow({ where: { id: offers[2]! } })).outExclusive).toBe(101));
  await page.getByText('The film plays the new trim as soon as it is made.').waitFor();
  await page.keyboard.press('Control+z');
  await eventually(async () => expect((await rig.db.offer.findUniqueOrThrow({ where: { id: offers[2]! } })).outExclusive).toBe(100));
  await rig.as('editor').patch(rig.at(`/offers/${offers[0]}`), CUTS[0]);
  await make();
  await page.locator('output').getByText('24', { exact: true }).waitFor();
  await page.context().close();
});

it('swaps to another offer in place, and keeps a note on the frame of the clip', async () => {
  const { clipId } = await rig.db.offer.findUniqueOrThrow({ where: { id: offers[1]! } });
  const select = (await rig.as('editor').post(rig.at('/selects'), { clipId, in: 5, outExclusive: 25 })).body;
  const other = (await rig.as('editor').post(rig.at('/offers'), { slotId: slots[1], selectId: select.id })).body;
  const page = await open('director', '?frame=12');
  await eventually(async () => expect(await numberShown(page)).toBe(expected(12)));
  await page.getByRole('button', { name: 'Note here' }).press('Enter');
  await page.getByRole('textbox', { name: /^Note at/ }).fill('Lovely wake');
  await page.keyboard.press('Control+Enter');
  await eventually(async () => expect(await rig.db.note.findFirst({ where: { filmId: rig.film } })).toMatchObject({ text: 'Lovely wake', offerId: offers[1], in: expected(12), outExclusive: expected(12) + 1 }));
  await page.getByRole('button', { name: /^Put in and approve/ }).press('Enter');
  await eventually(async () => expect((await rig.db.offer.findUniqueOrThrow({ where: { id: other.id } })).verdict).toBe('approve'));
  await make();
  await eventually(async () => expect(await numberShown(page)).toBe(shownFrame(2, { in: 5, outExclusive: 25 }, RATES[1]!, FILM)));
  await ribbon(page).getByRole('button', { name: /Wheels/ }).getByText('approved').waitFor();
  expect(await axeFindings(page)).toEqual([]);
  await page.context().close();
});
