// The Footage room in real Chromium with more clips than are ever on the page: windows, keys, questions in the address.
import { randomBytes } from 'node:crypto';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';

const CELLS = [
  { day: '2026-05-29', camera: 'A', clips: 400 },
  { day: '2026-05-29', camera: 'B', clips: 5 },
  { day: '2026-05-30', camera: 'A', clips: 130 },
  { day: null, camera: '', clips: 3 },
];
const ALL = CELLS.reduce((sum, { clips }) => sum + clips, 0);

let rig: Rig;
let browser: Browser;
const broken: string[] = [];
beforeAll(async () => {
  rig = await startRig();
  await rig.db.clip.createMany({
    data: CELLS.flatMap(({ day, camera, clips }) =>
      Array.from({ length: clips }, (_, n) => ({
        filmId: rig.film,
        name: `${camera || 'X'}${day?.slice(-2) ?? '00'}_${n + 1}.mov`,
        originalPath: `many/${camera}${day}${n}`,
        bytes: 1000n,
        xxh64: randomBytes(8).toString('hex'),
        uploadedById: rig.as('field').userId,
        state: 'ready' as const,
        proxyVersion: 'none',
        camera,
        shootDay: day === null ? null : new Date(day),
        location: n % 50 === 0 ? 'The causeway' : '',
        rateNum: 25,
        rateDen: 1,
        frames: 250 + n,
      })),
    ),
  });
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
});
afterEach(() => expect(broken.splice(0)).toEqual([]));

async function open(query = '', size = { width: 1280, height: 800 }): Promise<Page> {
  const context = await browser.newContext({ viewport: size });
  await signIn(context, rig.as('assistant'));
  const page = await context.newPage();
  page.on('pageerror', (error) => broken.push(error.stack ?? error.message));
  await page.goto(`${rig.url}/films/${rig.film}/footage${query}`);
  await page.getByRole('heading', { name: 'Footage' }).waitFor();
  await page.getByRole('table').or(page.getByText('No clip is like that.')).waitFor();
  return page;
}
const link = (page: Page, name: string) => page.locator('[data-clip]', { has: page.locator('.name').getByText(name, { exact: true }) });
const focused = (page: Page) => page.evaluate(() => document.activeElement?.querySelector('.name')?.textContent ?? '');

describe('the footage room', () => {
  it('makes only the clips in sight, and each where it belongs', async () => {
    const page = await open();
    await page.getByText(`${ALL} clips, 2 shoot days`).waitFor();
    await link(page, 'A29_1.mov').waitFor();
    const heights = () => page.evaluate(() => document.documentElement.scrollHeight);
    const height = await heights();
    expect(await page.locator('[data-clip]').count()).toBeLessThan(200);
    await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight / 2));
    await link(page, 'A29_1.mov').waitFor({ state: 'detached' });
    await eventually(async () => expect(await page.locator('[data-clip]').count()).toBeGreaterThan(20));
    expect(await page.locator('[data-clip]').count()).toBeLessThan(200);
    // What comes into sight takes the room that was kept for it.
    expect(await heights()).toBe(height);
    await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
    await link(page, 'X00_3.mov').waitFor();
    expect(await axeFindings(page)).toEqual([]);
    await page.context().close();
  });

  it('is walked by keys through clips that are not on the page yet', async () => {
    const page = await open();
    await link(page, 'A29_1.mov').focus();
    await page.keyboard.press('End');
    await eventually(async () => expect(await focused(page)).toBe('X00_3.mov'));
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('ArrowLeft');
    await eventually(async () => expect(await focused(page)).toBe('A30_130.mov'));
    await page.keyboard.press('Home');
    await eventually(async () => expect(await focused(page)).toBe('A29_1.mov'));
    await page.keyboard.press('ArrowDown');
    const below = await focused(page);
    expect(below).toMatch(/^A29_\d+\.mov$/);
    await page.keyboard.press('ArrowUp');
    await eventually(async () => expect(await focused(page)).toBe('A29_1.mov'));
    await page.context().close();
  });

  it('begins at the clip that its address names', async () => {
    const { id } = await rig.db.clip.findFirstOrThrow({ where: { name: 'A29_333.mov' } });
    const page = await open(`/${id}`);
    await eventually(async () => expect(await focused(page)).toBe('A29_333.mov'));
    await page.context().close();
  });

  it('asks by words and facts that stand in the address, and goes back to what was asked before', async () => {
    const page = await open();
    const search = page.getByRole('search', { name: 'Find clips' });
    await search.getByLabel('Location').selectOption({ label: 'The causeway' });
    await page.getByText(/^13 of 538 clips/).waitFor();
    await search.getByLabel('Camera').selectOption({ label: 'B' });
    await page.getByText(/^1 of 538 clips/).waitFor();
    expect(new URL(page.url()).searchParams.toString()).toBe('camera=B&location=The+causeway');
    await page.goBack();
    await page.getByText(/^13 of 538 clips/).waitFor();
    await search.getByLabel('Words').fill('a30 101');
    await page.getByText(/^1 of 538 clips/).waitFor();
    await link(page, 'A30_101.mov').waitFor();
    expect(await axeFindings(page)).toEqual([]);

    const shared = await open(new URL(page.url()).search);
    await link(shared, 'A30_101.mov').waitFor();
    expect(await shared.getByRole('search').getByLabel('Words').inputValue()).toBe('a30 101');
    await shared.getByRole('search').getByLabel('Words').fill('nothing like it');
    await shared.getByText('No clip is like that.').waitFor();
    await shared.getByRole('button', { name: 'Ask for everything' }).last().click();
    await link(shared, 'A29_1.mov').waitFor();
    await shared.context().close();
    await page.context().close();
  });

  it('chooses all that is asked for, seen or not, sets a fact of them, and takes it back', async () => {
    const page = await open('?camera=A&day=2026-05-29');
    await link(page, 'A29_1.mov').focus();
    await page.keyboard.press('Control+a');
    await page.getByRole('heading', { name: '400 clips chosen' }).waitFor();
    await page.getByRole('complementary').getByRole('textbox', { name: 'Card' }).fill('A007');
    await page.getByRole('button', { name: 'Set for 400 clips' }).click();
    const cards = async () => (await rig.db.clip.groupBy({ by: ['card'], where: { filmId: rig.film }, _count: true })).map(({ card, _count }) => [card, _count]).sort();
    await eventually(async () => expect(await cards()).toEqual([['', ALL - 400], ['A007', 400]]));
    await page.getByRole('button', { name: 'Undo' }).last().click();
    await eventually(async () => expect(await cards()).toEqual([['', ALL]]));
    await page.context().close();
  });

  it('follows what others change: a clip goes to its new place, the counts with it, and who looks elsewhere stays there', async () => {
    const page = await open();
    const other = await rig.db.clip.findFirstOrThrow({ where: { name: 'B29_3.mov' } });
    await link(page, 'A29_1.mov').focus();
    await page.evaluate(() => scrollTo(0, 400));
    await rig.as('editor').patch(rig.at(`/clips/${other.id}`), { camera: 'D' });
    await page.getByRole('columnheader', { name: 'D' }).waitFor();
    expect(await focused(page)).toBe('A29_1.mov');
    expect(await page.evaluate(() => scrollY)).toBe(400);
    await rig.as('editor').post(rig.at('/selects'), { clipId: other.id, in: 3, outExclusive: 9 });
    await link(page, 'B29_3.mov').filter({ hasText: '1 select' }).waitFor();
    await rig.as('editor').patch(rig.at(`/clips/${other.id}`), { camera: 'B' });
    await page.getByRole('columnheader', { name: 'D' }).waitFor({ state: 'detached' });
    await page.context().close();
  });

  it('works on a phone', async () => {
    const page = await open('', { width: 390, height: 800 });
    await link(page, 'A29_1.mov').waitFor();
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
    await page.context().close();
  });
});
