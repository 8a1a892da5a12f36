// Two cameras that rolled at once: found, laid on one another by their sound, joined, and stepped together, told by the numbers drawn in their pictures.
import { execFile } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { rate } from '#core/rate.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { makeClip } from '../fixtures/footage.ts';
import { readFrameNumber } from '../fixtures/frame-blocks.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { moment } from '../fixtures/sound-pairs.ts';

const RATE = rate(25);
const FRAMES = 14 * 25;
/** Frames that B began after A. */
const LATER = 31;

let rig: Rig;
let browser: Browser;
let page: Page;
let dir: string;
const ids: string[] = [];
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-family-'));
  const sound = join(dir, 'sound.raw');
  await writeFile(sound, Buffer.from(moment('voices', 17, 8).buffer));
  for (const [camera, from] of [['A', 0], ['B', LATER / 25]] as const) {
    const [picture, file] = [join(dir, `picture-${camera}.mov`), join(dir, `${camera}001C001.mov`)];
    await makeClip({ name: `${camera}001C001`, scene: 'causeway', rate: RATE, frames: FRAMES, width: 640, height: 360, silent: true }, picture, rig.ground.tools);
    const heard = ['-f', 'f32le', '-ar', '48000', '-ac', '1', '-ss', String(from), '-i', sound, '-t', String(FRAMES / 25)];
    await promisify(execFile)(rig.ground.tools.ffmpeg, ['-v', 'error', '-y', '-i', picture, ...heard, '-map', '0:v', '-map', '1:a', '-c:v', 'copy', '-c:a', 'aac', file]);
    const shootDay = new Date('2026-05-04');
    const { id } = await receive(rig.ground, rig.film, file, { camera, shootDay, byHand: ['camera', 'shootDay'] });
    await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
    // The cameras' own clocks are 40 s apart, as clocks that nobody set are.
    await rig.db.clip.update({ where: { id }, data: { capturedAt: new Date(Date.UTC(2026, 4, 4, 6, 0, camera === 'A' ? 0 : 40)) } });
    ids.push(id);
  }
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  await signIn(context, rig.as('editor'));
  page = await context.newPage();
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

const members = async () => (await rig.as('editor').get(rig.at('/state'))).body.rows.families.flatMap((family: { members: object[] }) => family.members);

it('a clip leads to the one that rolled with it, and sound says where that lies', async () => {
  await page.goto(`${rig.url}/films/${rig.film}/sweep/${ids[0]}`);
  await page.getByRole('link', { name: 'takes of this moment' }).click();
  await page.getByRole('button', { name: /^See how it lies.*B001C001/ }).click();
  await page.getByText(`by sound it began 1.240 s later`).waitFor();
  await page.getByRole('button', { name: /^Join by sound.*B001C001/ }).click();
  await page.getByText('rolling with B').waitFor();
  expect(await axeFindings(page)).toEqual([]);
});

it('a step moves both, and the numbers drawn in their pictures are those of one moment', async () => {
  const drawn = () =>
    page.evaluate(() =>
      [...document.querySelectorAll<HTMLElement>('.members .picture')].map((picture) => {
        const canvas = picture.querySelector('canvas')!;
        const source = canvas.classList.contains('shown') ? canvas : picture.querySelector('video')!;
        const copy = new OffscreenCanvas(320, 180);
        const ground = copy.getContext('2d')!;
        ground.drawImage(source, 0, 0, 320, 180);
        return [...ground.getImageData(0, 0, 320, 180).data];
      }),
    );
  const numbers = async () => (await drawn()).map((rgba) => readFrameNumber(rgba, 320, 180));
  await page.waitForFunction(() => { const videos = [...document.querySelectorAll<HTMLVideoElement>('.members video')]; return videos.length === 2 && videos.every((video) => video.readyState >= HTMLMediaElement.HAVE_CURRENT_DATA); });
  await page.keyboard.press('End');
  const before = await (async () => {
    let found: (number | null)[] = [];
    await eventually(async () => {
      found = await numbers();
      expect(found[0]).toBe(found[1]! + LATER);
    });
    return found[0]!;
  })();
  await page.keyboard.press('ArrowLeft');
  await eventually(async () => expect(await numbers()).toEqual([before - 1, before - 1 - LATER]));
});

it('is split and joined again, and each is taken back', async () => {
  expect(await members()).toHaveLength(2);
  await page.getByRole('button', { name: /^Split out/ }).click();
  await page.getByText('in no family').waitFor();
  expect(await members()).toHaveLength(0);
  await page.keyboard.press('Control+z');
  await page.getByText('rolling with B').waitFor();
  expect(await members()).toContainEqual({ clipId: ids[1], offset: { num: expect.any(Number), den: expect.any(Number) }, by: 'sound' });
  await page.keyboard.press('Control+Shift+Z');
  await page.getByText('in no family').waitFor();
});
