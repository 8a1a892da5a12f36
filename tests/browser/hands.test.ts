// Hands on the keyboard in the real page: bindings by room and person, the footage's keys, the volume, a viewer held
// inside the trim, and offers that play in step, told by the numbers drawn in their frames.
import { mkdtempSync, readFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { makeProxy } from '../../server/proxies/make.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { CLIPS, makeClip, type ClipName } from '../fixtures/footage.ts';
import { readFrameNumber } from '../fixtures/frame-blocks.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { addSlot } from '../fixtures/slots.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
/** Two rates, two lengths. */
const OFFERS = [
  { clip: 'pal-25.mov', rate: 25, in: 5, outExclusive: 145 },
  { clip: 'drop-29.97.mov', rate: 30000 / 1001, in: 31, outExclusive: 171 },
] as const satisfies { clip: ClipName; rate: number; in: number; outExclusive: number }[];

let rig: Rig;
let browser: Browser;
let dir: string;
let slotId: string;
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-hands-'));
  slotId = (await addSlot(rig)).id;
  const made = OFFERS.map(async ({ clip }) => {
    const file = join(dir, clip);
    await makeClip(CLIPS[clip], file, rig.ground.tools);
    const { id } = await receive(rig.ground, rig.film, file);
    await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
    return id;
  });
  for (const [i, { in: first, outExclusive }] of OFFERS.entries()) {
    const id = await made[i];
    const select = (await rig.as('editor').post(rig.at('/selects'), { clipId: id, in: first, outExclusive })).body;
    expect((await rig.as('editor').post(rig.at('/offers'), { slotId, selectId: select.id })).status).toBe(201);
  }
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

async function open(person: Person, room: string): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  const cookie = rig.as(person).cookie;
  await context.addCookies([{ name: cookie.slice(0, cookie.indexOf('=')), value: cookie.slice(cookie.indexOf('=') + 1), domain: '127.0.0.1', path: '/' }]);
  const page = await context.newPage();
  await page.goto(`${rig.url}/films/${rig.film}/${room}`);
  await page.getByRole('heading', { level: 1 }).waitFor();
  return page;
}

async function faults(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => (window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run());
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html.slice(0, 160)).join(' | ')}`);
}

const clips = (page: Page) => page.locator('[data-clip]');
const focused = (page: Page) => page.evaluate(() => document.activeElement?.getAttribute('data-clip'));

describe('the footage', () => {
  it('is walked and chosen by keys, which another control can be given for this room and this person alone', async () => {
    const page = await open('editor', 'footage');
    // Cells come in any order: which clip is first is known when both are there.
    await clips(page).nth(1).waitFor();
    const [one, two] = [await clips(page).nth(0).getAttribute('data-clip'), await clips(page).nth(1).getAttribute('data-clip')];
    await page.keyboard.press('End');
    await eventually(async () => expect(await focused(page)).toBe(two));
    await page.keyboard.press('Home');
    await eventually(async () => expect(await focused(page)).toBe(one));
    await page.keyboard.press('Space');
    await eventually(async () => expect(await page.locator('li.chosen').count()).toBe(1));
    await page.keyboard.press('Control+a');
    await page.getByRole('heading', { name: '2 clips chosen' }).waitFor();
    await page.keyboard.press('Escape');
    await eventually(async () => expect(await page.locator('li.chosen').count()).toBe(0));

    await page.keyboard.press('?');
    const panel = page.getByRole('dialog', { name: 'Hands' });
    await panel.getByRole('button', { name: 'Change: Go to the last clip' }).click();
    await panel.getByText('move a control …').waitFor();
    await page.keyboard.press('x');
    await eventually(async () => expect(await panel.getByRole('row', { name: /^Go to the last clip/ }).locator('kbd').allTextContents()).toEqual(['X', 'pad right shoulder']));
    expect(await faults(page)).toEqual([]);
    await page.keyboard.press('Escape');
    await panel.waitFor({ state: 'hidden' });
    await clips(page).nth(0).focus();
    await page.keyboard.press('End');
    expect(await focused(page)).toBe(one);
    await page.keyboard.press('x');
    await eventually(async () => expect(await focused(page)).toBe(two));

    const kept = (await rig.as('editor').get('/api/me/bindings')).body;
    expect(kept).toMatchObject({ version: 3, rooms: { footage: { 'footage.last': ['key:X', 'pad:right-shoulder'] } } });
    expect((await rig.as('director').get('/api/me/bindings')).body).toEqual({});
    await page.context().close();
  });
});

describe('a control changed in one room', () => {
  it('stays what it was in another, and comes back when the page is loaded again', async () => {
    const page = await open('director', `picks/${slotId}`);
    const change = async (action: string, key: string) => {
      await page.keyboard.press('?');
      const panel = page.getByRole('dialog', { name: 'Hands' });
      await panel.getByRole('button', { name: `Change: ${action}` }).click();
      await panel.getByText('move a control …').waitFor();
      await page.keyboard.press(key);
      await panel.getByRole('row', { name: new RegExp(`^${action}`) }).locator('kbd').getByText(key.toUpperCase(), { exact: true }).waitFor();
      await page.keyboard.press('Escape');
      await panel.waitFor({ state: 'hidden' });
    };
    const controlOf = async (action: string) => {
      await page.keyboard.press('?');
      const panel = page.getByRole('dialog', { name: 'Hands' });
      const words = await panel.getByRole('row', { name: new RegExp(`^${action}`) }).locator('kbd').allTextContents();
      await page.keyboard.press('Escape');
      await panel.waitFor({ state: 'hidden' });
      return words;
    };
    await page.locator('video').first().waitFor();
    await change('Play or pause', 'q');
    await page.reload();
    await page.locator('video').first().waitFor();
    await eventually(async () => expect(await controlOf('Play or pause')).toEqual(['Q', 'pad face bottom']));
    await page.getByRole('link', { name: 'Sweep', exact: true }).click();
    await page.getByRole('group', { name: 'Transport' }).waitFor();
    expect(await controlOf('Play or pause')).toEqual(['Space', 'pad face bottom']);
    await page.context().close();
  });
});

describe('the volume', () => {
  it('has a name, works by keys, and is remembered', async () => {
    const page = await open('director', 'sweep');
    const slider = page.getByRole('group', { name: 'Transport' }).getByRole('slider', { name: 'Volume' });
    await slider.waitFor();
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('-');
    await eventually(async () => expect(await slider.inputValue()).toBe('90'));
    await slider.focus();
    await page.keyboard.press('ArrowLeft');
    await eventually(async () => expect(await page.locator('video').first().evaluate((video: HTMLVideoElement) => video.volume)).toBeCloseTo(0.85));
    expect(await faults(page)).toEqual([]);
    await page.reload();
    await eventually(async () => expect(await slider.inputValue()).toBe('85'));
    await page.context().close();
  });
});

describe('a viewer', () => {
  it('stays inside the trim of an offer, stepping and playing', async () => {
    const page = await open('viewer', `picks/${slotId}`);
    const frame = page.locator('li.inHand output');
    const [{ in: first, outExclusive }] = OFFERS;
    await frame.getByText(String(first), { exact: true }).waitFor();
    await page.keyboard.press('ArrowLeft');
    await page.keyboard.press('End');
    await frame.getByText(String(outExclusive - 1), { exact: true }).waitFor();
    for (let n = 0; n < 3; n++) await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('ArrowLeft');
    await frame.getByText(String(outExclusive - 2), { exact: true }).waitFor();
    await page.keyboard.press('Home');
    await frame.getByText(String(first), { exact: true }).waitFor();
    await page.keyboard.press('Shift+ArrowLeft');
    await page.keyboard.press('ArrowRight');
    await frame.getByText(String(first + 1), { exact: true }).waitFor();
    await page.context().close();
  });
});

/** The numbers drawn in what the takes show, in the order of the offers. */
async function drawn(page: Page): Promise<(number | null)[]> {
  const pictures = await page.evaluate(() =>
    [...document.querySelectorAll<HTMLVideoElement>('.offers video')].map((video) => {
      const canvas = video.parentElement!.querySelector('canvas')!;
      const top = getComputedStyle(canvas).visibility === 'visible' ? canvas : video;
      const [width, height] = top === canvas ? [canvas.width, canvas.height] : [video.videoWidth, video.videoHeight];
      const copy = new OffscreenCanvas(width, height).getContext('2d')!;
      copy.drawImage(top, 0, 0);
      const from = Math.floor(height * 0.95);
      return { width, height, from, rows: [...copy.getImageData(0, from, width, height - from).data] };
    }),
  );
  return pictures.map(({ width, height, from, rows }) => {
    const whole = new Uint8Array(width * height * 4);
    whole.set(rows, from * width * 4);
    return readFrameNumber(whole, width, height);
  });
}

describe('offers in step', () => {
  it('begin together, are held together, and stop at one moment', async () => {
    const page = await open('director', `picks/${slotId}`);
    await page.getByRole('button', { name: 'Play all in step' }).click();
    await page.waitForFunction(() => document.querySelectorAll('.offers video').length === 2);
    // In the page itself, since a look from outside comes too late to a take of a few seconds.
    const begun = await page.evaluate(
      async ({ ins, frame }) => {
        const videos = [...document.querySelectorAll<HTMLVideoElement>('.offers video')];
        const elapsed = () => videos.map((video, n) => video.currentTime - ins[n]!) as [number, number];
        const apart = () => Math.abs(elapsed()[0] - elapsed()[1]);
        const until = async (holds: () => boolean) => {
          while (!holds()) await new Promise(requestAnimationFrame);
        };
        const both = () => videos.every((video) => !video.paused);
        await until(() => both() && elapsed().every((seconds) => seconds > 0.2) && apart() < frame);
        const speeds = videos.map((video) => video.playbackRate);
        // Something holds the second up for seven frames; it is brought back while both play.
        videos[1]!.currentTime -= 0.3;
        await until(() => apart() > 0.2);
        await until(() => !both() || apart() < frame);
        // K stops the take in hand.
        const broughtBack = both();
        window.dispatchEvent(new KeyboardEvent('keydown', { key: 'k', code: 'KeyK' }));
        return { broughtBack, heard: speeds[0] };
      },
      { ins: OFFERS.map((offer) => offer.in / offer.rate), frame: 1 / 30 },
    );
    expect(begun).toEqual({ broughtBack: true, heard: 1 });
    // The other rests at the moment it shows.
    await eventually(async () => {
      const [one, two] = await drawn(page);
      const moment = (one! - OFFERS[0].in) / OFFERS[0].rate;
      expect([one, two]).toEqual([one, Math.min(OFFERS[1].outExclusive - 1, OFFERS[1].in + Math.floor(moment * OFFERS[1].rate + 1e-6))]);
    });
    expect(await page.evaluate(() => [...document.querySelectorAll<HTMLVideoElement>('.offers video')].every((video) => video.paused))).toBe(true);

    // Begun anew it plays to the end of the longer one; each ends on the last frame of its trim.
    await page.keyboard.press('s');
    await eventually(async () => expect(await drawn(page)).toEqual(OFFERS.map((offer) => offer.outExclusive - 1)));
    await page.context().close();
  });
});
