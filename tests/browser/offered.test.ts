// A viewer's playlist has gaps wherever nothing is on offer. That a real player seeks and plays inside an offer, on the
// clip's own timeline, and asks for nothing outside it, is shown here with hls.js in Chromium.
import { mkdtemp, rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { makeProxy } from '../../server/proxies/make.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { makeSource, receive } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

const OFFER = { in: 260, outExclusive: 320 };
const RATE = 25;

let rig: Rig;
let browser: Browser;
let dir: string;
beforeAll(async () => {
  rig = await startRig();
  dir = await mkdtemp(join(tmpdir(), 'rushlight-offered-'));
  browser = await startChromium();
});
afterAll(async () => {
  await browser.close();
  await rig.close();
  await rm(dir, { recursive: true, force: true });
});

it('hls.js seeks to an offer and plays it, and asks for no segment outside it', async () => {
  const { id } = await receive(rig.ground, rig.film, await makeSource(join(dir, 'ferry.mov'), { seconds: 20, size: '640x360' }));
  await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
  const part = await rig.db.item.create({ data: { filmId: rig.film, kind: 'part', orderKey: 'a0', name: 'Closing' } });
  const slot = await rig.db.item.create({ data: { filmId: rig.film, kind: 'slot', parentId: part.id, orderKey: 'a0', name: 'The ferry leaves' } });
  const select = await rig.db.select.create({ data: { filmId: rig.film, clipId: id, ...OFFER, madeById: 'test' } });
  await rig.db.offer.create({ data: { filmId: rig.film, slotId: slot.id, selectId: select.id, clipId: id, ...OFFER, orderKey: 'a0', offeredById: 'test' } });
  const { proxyVersion } = await rig.db.clip.findUniqueOrThrow({ where: { id } });
  const master = `${rig.url}${rig.at(`/media/${id}/${proxyVersion}/master.m3u8`)}`;

  // Our own policy lets no page run a script that is not ours, and this one is the test's.
  const context = await browser.newContext({ bypassCSP: true, extraHTTPHeaders: { cookie: rig.as('viewer').cookie } });
  const page = await context.newPage();
  const asked: { file: string; status: number }[] = [];
  page.on('response', (response) => {
    if (response.url().includes('/media/')) asked.push({ file: response.url().split('/').at(-1)!, status: response.status() });
  });
  await page.goto(`${rig.url}/api/health`);
  await page.setContent('<video muted></video>');
  await page.addScriptTag({ path: createRequire(import.meta.url).resolve('hls.js/dist/hls.min.js') });
  const shown = await page.evaluate(
    async ({ master, from, to, rate }) => {
      const video = document.querySelector('video')!;
      const { Hls } = window as unknown as { Hls: any };
      const hls = new Hls({ startPosition: (from + 0.5) / rate });
      hls.loadSource(master);
      hls.attachMedia(video);
      return new Promise<{ frames: number[]; fatal: string | null }>((resolve) => {
        const frames: number[] = [];
        hls.on(Hls.Events.ERROR, (_: unknown, error: { fatal: boolean; details: string }) => error.fatal && resolve({ frames, fatal: error.details }));
        const look = (_: number, { mediaTime }: { mediaTime: number }) => {
          frames.push(Math.round(mediaTime * rate));
          if (frames.at(-1)! >= to - 1) return resolve({ frames, fatal: null });
          video.requestVideoFrameCallback(look);
          if (video.paused) void video.play();
        };
        video.requestVideoFrameCallback(look);
      });
    },
    { master, from: OFFER.in, to: OFFER.outExclusive, rate: RATE },
  );
  expect(shown.fatal).toBeNull();
  expect(shown.frames[0]).toBe(OFFER.in);
  expect(shown.frames.at(-1)).toBe(OFFER.outExclusive - 1);
  expect(asked.filter(({ status }) => status >= 400)).toEqual([]);
  // Segments of 50 frames: 260 to 320 lie in the sixth and the seventh.
  expect([...new Set(asked.filter(({ file }) => file.startsWith('picture') && file.endsWith('.m4s')).map(({ file }) => file))]).toHaveLength(2);
  await context.close();
});
