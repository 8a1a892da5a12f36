// The Sweep room in real Chromium on real proxies: the next clip loads before it is asked for; a clip is put aside.
import { mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { makeClip } from '../../server/demo/footage.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { numberShown } from '../fixtures/number-shown.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { addItem } from '../fixtures/slots.ts';

const RATE = { num: 25, den: 1 };
const NAMES = ['A001C001', 'A001C002', 'A001C003'];

let rig: Rig;
let browser: Browser;
let dir: string;
const ids: string[] = [];
const broken: string[] = [];
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-sweep-'));
  for (const name of NAMES) {
    const file = join(dir, `${name}.mov`);
    await makeClip({ name, scene: 'causeway', rate: RATE, frames: 100, width: 640, height: 360, silent: true }, file, rig.ground.tools);
    const { id } = await receive(rig.ground, rig.film, file, { camera: 'A', shootDay: new Date('2026-05-04'), byHand: ['camera', 'shootDay'] });
    await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
    ids.push(id);
  }
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});
afterEach(() => expect(broken.splice(0)).toEqual([]));

async function open(address: string): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  await signIn(context, rig.as('editor'));
  const page = await context.newPage();
  page.on('pageerror', (error) => broken.push(error.stack ?? error.message));
  await page.goto(`${rig.url}/films/${rig.film}/${address}`);
  return page;
}

describe('the next clip', () => {
  it('is loaded before it is asked for, and is there without the server; nothing of it counts as seen until then', async () => {
    const page = await open(`sweep/${ids[0]}`);
    const loads = page.waitForResponse((answer) => answer.url().includes(`/${ids[1]}/`) && answer.url().endsWith('picture_00000.m4s'));
    const measured = page.waitForResponse((answer) => answer.url().includes(`/${ids[1]}/`) && answer.url().endsWith('traces.json'));
    await (await loads).finished();
    await (await measured).finished();
    await eventually(async () => expect(await numberShown(page)).toBe(0));
    expect(await rig.db.seen.count({ where: { clipId: ids[1]! } })).toBe(0);
    // Only one player is on the page, and only it is heard.
    expect(await page.locator('video').count()).toBe(1);
    await page.route('**/media/**', (route) => route.abort());
    await page.keyboard.press('PageDown');
    await page.getByRole('heading', { name: 'A001C002.mov' }).waitFor();
    await eventually(async () => expect(await numberShown(page)).toBe(0));
    for (let n = 0; n < 3; n++) await page.keyboard.press('ArrowRight');
    await eventually(async () => expect(await numberShown(page)).toBe(3));
    await page.context().close();
  });

  it('that will not come up is let go, and going back and forth plays what is named', async () => {
    const page = await open(`sweep/${ids[0]}`);
    for (const [key, name] of [['PageDown', 'A001C002'], ['PageDown', 'A001C003'], ['PageUp', 'A001C002'], ['PageUp', 'A001C001'], ['PageDown', 'A001C002']] as const) {
      await eventually(async () => expect(await numberShown(page)).toBe(0));
      await page.keyboard.press(key);
      await page.getByRole('heading', { name: `${name}.mov` }).waitFor();
    }
    await eventually(async () => expect(await numberShown(page)).toBe(0));
    await page.context().close();
  });
});

describe('a clip with nothing usable', () => {
  const aside = async (n: number) => (await rig.db.clip.findUniqueOrThrow({ where: { id: ids[n]! } })).asideReason;

  it('is put aside by one stroke, goes on to the next, and is left out of what is still to see', async () => {
    const page = await open(`sweep/${ids[0]}`);
    await page.getByRole('button', { name: 'Nothing usable: put aside' }).waitFor();
    await page.keyboard.press('x');
    await page.getByRole('heading', { name: 'A001C002.mov' }).waitFor();
    await eventually(async () => expect(await aside(0)).not.toBeNull());
    await page.keyboard.press('PageUp');
    await page.getByText('Put aside by').waitFor();
    await page.getByRole('combobox', { name: 'Because it is' }).selectOption({ label: 'false start' });
    await eventually(async () => expect(await aside(0)).toBe('false-start'));
    expect(await axeFindings(page)).toEqual([]);
    const footage = await open('footage?selects=aside');
    await footage.getByText('aside: false start').waitFor();
    expect(await footage.locator('[data-clip]').count()).toBe(1);
    await footage.context().close();
    expect((await rig.as('editor').get(rig.at('/ledger'))).body.whole.unseenClips).toBe(2);
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('x');
    await page.getByRole('button', { name: 'Nothing usable: put aside' }).waitFor();
    await eventually(async () => expect(await aside(0)).toBeNull());
    await page.keyboard.press('Control+z');
    await eventually(async () => expect(await aside(0)).toBe('false-start'));
    await rig.as('editor').del(rig.at(`/clips/${ids[0]}/aside`));
    await page.context().close();
  });
});

describe('without a link', () => {
  const selects = () => rig.db.select.findMany({ where: { filmId: rig.film, removedAt: null }, orderBy: [{ clipId: 'asc' }, { in: 'asc' }] });
  const cut = async (page: Page, first: number, last: number) => {
    // To the first frame, and from there by single frames.
    await page.keyboard.press('Home');
    for (const [to, key] of [[first, 'i'], [last, 'o']] as const) {
      const from = key === 'i' ? 0 : first;
      for (let n = from; n < to; n++) await page.keyboard.press('ArrowRight');
      await eventually(async () => expect(await numberShown(page)).toBe(to));
      await page.keyboard.press(key);
    }
    await page.keyboard.press('d');
  };

  it('every stroke shows at once, and all of it arrives once when the link is back', async () => {
    const part = await addItem(rig, 'part', 'The crossing');
    const slot = await addItem(rig, 'slot', 'Gulls', part.id);
    const page = await open(`sweep/${ids[0]}`);
    const coming = page.waitForResponse((answer) => answer.url().includes(`/${ids[1]}/`) && answer.url().endsWith('picture_00000.m4s'));
    await (await coming).finished();
    await eventually(async () => expect(await numberShown(page)).toBe(0));
    await page.context().setOffline(true);
    await page.getByText('Connection lost.').waitFor();
    await cut(page, 2, 6);
    await page.getByRole('button', { name: 'Select 1', exact: false }).first().waitFor();
    await page.keyboard.press('c');
    await page.keyboard.press('1');
    await page.getByText('offered for Gulls', { exact: true }).waitFor();
    await page.keyboard.press('n');
    await page.getByRole('textbox', { name: /^Note at/ }).fill('The wake is lovely');
    await page.keyboard.press('Control+Enter');
    await page.getByText('The wake is lovely').first().waitFor();
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('PageDown');
    await page.getByRole('heading', { name: 'A001C002.mov' }).waitFor();
    await cut(page, 0, 3);
    await page.getByText(/things you did wait in this browser/).waitFor();
    expect(await selects()).toEqual([]);
    await page.context().setOffline(false);
    await eventually(async () => expect((await selects()).map(({ clipId, in: first, outExclusive, circled }) => [ids.indexOf(clipId), first, outExclusive, circled])).toEqual([[0, 2, 7, true], [1, 0, 4, false]]));
    expect((await rig.db.offer.findMany({ where: { filmId: rig.film } })).map(({ slotId, in: first, outExclusive }) => [slotId, first, outExclusive])).toEqual([[slot.id, 2, 7]]);
    expect((await rig.db.note.findMany({ where: { filmId: rig.film } })).map(({ text }) => text)).toEqual(['The wake is lovely']);
    await eventually(async () => expect(await page.getByText('Connection lost.').count()).toBe(0));
    // Taken back as everything else is.
    await page.keyboard.press('Control+z');
    await eventually(async () => expect(await selects()).toHaveLength(1));
    await page.context().close();
  });

  it('what was done before the page was closed goes out from the next one', async () => {
    await rig.db.select.deleteMany({ where: { filmId: rig.film, offers: { none: {} } } });
    const page = await open(`sweep/${ids[2]}`);
    await eventually(async () => expect(await numberShown(page)).toBe(0));
    await page.context().setOffline(true);
    await page.getByText('Connection lost.').waitFor();
    await cut(page, 1, 4);
    await page.getByRole('button', { name: 'Select 1', exact: false }).first().waitFor();
    const context = page.context();
    await page.close();
    await context.setOffline(false);
    const again = await context.newPage();
    await again.goto(`${rig.url}/films/${rig.film}/footage`);
    await eventually(async () => expect((await selects()).filter(({ clipId }) => clipId === ids[2]).map(({ in: first, outExclusive }) => [first, outExclusive])).toEqual([[1, 5]]));
    await context.close();
  });
});
