// What was measured of a clip, in the sweep: the margin and its words, a stretch that one stroke makes a select, a caution
// before a picture that flashes, and clips that nothing was measured of.
import { mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { rate } from '#core/rate.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { makeClip } from '../fixtures/footage.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { SPOIL, spoil } from '../fixtures/spoil.ts';

let rig: Rig;
let browser: Browser;
let dir: string;
const ids: Record<'spoiled' | 'flashing' | 'old', string> = { spoiled: '', flashing: '', old: '' };
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-quality-'));
  const { tools, storage } = rig.ground;
  const clean = join(dir, 'clean.mov');
  await makeClip({ name: 'A004C001', scene: 'ferry', rate: rate(25), frames: 250, width: 640, height: 360 }, clean, tools);
  const add = async (name: string, how: Parameters<typeof spoil>[3]) => {
    const file = join(dir, name);
    await spoil(tools.ffmpeg, clean, file, how);
    // A day apart, so that the order in which they are swept is known.
    const { id } = await receive(rig.ground, rig.film, file, { shootDay: new Date(Date.UTC(2026, 4, 4 + Object.values(ids).filter(Boolean).length)) });
    await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
    return id;
  };
  ids.spoiled = await add('A004C001.mov', { picture: [SPOIL.soft(3, 5)], sound: [SPOIL.silent(6, 8)] });
  ids.flashing = await add('A004C002.mov', { picture: [SPOIL.flashing(1, 3)] });
  ids.old = await add('A004C003.mov', {});
  const { proxyVersion } = await rig.db.clip.findUniqueOrThrow({ where: { id: ids.old } });
  await storage.remove('proxies', `${ids.old}/${proxyVersion}/traces.json`);
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

async function open(clip: string): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  await signIn(context, rig.as('editor'));
  const page = await context.newPage();
  await page.goto(`${rig.url}/films/${rig.film}/sweep/${clip}`);
  await page.getByRole('heading', { name: 'Found in this clip' }).waitFor();
  // Until there is a picture, the first seek is still to come.
  await page.waitForFunction(() => (document.querySelector('video')?.readyState ?? 0) >= HTMLMediaElement.HAVE_CURRENT_DATA);
  return page;
}

const position = (page: Page) => page.getByRole('group', { name: 'Position' });

describe('what was measured of a clip', () => {
  it('stands in the margin and in words, and goes to its frame', async () => {
    const page = await open(ids.spoiled);
    await page.getByRole('img', { name: 'Picture and sound: 0:03–0:05 soft, 0:06–0:08 silent' }).waitFor();
    await page.getByText('Against it: 2 stretches').click();
    await page.getByRole('button', { name: '0:06–0:08 silent' }).click();
    await position(page).getByText(/^frame 1(48|52) of/).waitFor();
    expect(await page.getByText('Flashing picture').count()).toBe(0);
    expect(await axeFindings(page)).toEqual([]);
    await page.context().close();
  });

  it('suggests stretches: one stroke goes to the next, another makes it a select, and undo takes it back', async () => {
    const page = await open(ids.spoiled);
    const go = page.getByRole('button', { name: /long$/ });
    await eventually(async () => expect((await go.allTextContents()).map((text) => text.trim())).toEqual(['0:00–0:03, 0:03 long', '0:05–0:10, 0:05 long']));
    await page.getByText('after soft, to the last; silent').waitFor();
    const kept = async () => (await rig.db.select.findMany({ where: { clipId: ids.spoiled, removedAt: null } })).map((row) => [row.in, row.outExclusive]);
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('s');
    await eventually(async () => expect(await go.nth(1).getAttribute('aria-pressed')).toBe('true'));
    expect(await kept()).toEqual([]);
    // Twice in haste makes one.
    await page.keyboard.press('a');
    await page.keyboard.press('a');
    await eventually(async () => expect(await go.count()).toBe(1));
    await eventually(async () => expect(await kept()).toEqual([[128, 250]]));
    await page.keyboard.press('Control+z');
    await eventually(async () => expect(await kept()).toEqual([]));
    await eventually(async () => expect(await go.count()).toBe(2));
    await page.context().close();
  });

  it('is said to be missing where a proxy was made before there were traces', async () => {
    const page = await open(ids.old);
    await page.getByText('Picture and sound of this clip were not measured').waitFor();
    expect(await page.getByRole('img', { name: /^Picture and sound/ }).count()).toBe(0);
    await page.context().close();
  });
});

describe('a picture that flashes', () => {
  it('is announced before it plays, and does not begin by itself when the clip before ends', async () => {
    const page = await open(ids.spoiled);
    await page.keyboard.press('End');
    await position(page).getByText('frame 249 of 250').waitFor();
    for (let n = 0; n < 12; n++) await page.keyboard.press('ArrowLeft');
    await position(page).getByText('frame 237 of 250').waitFor();
    await page.keyboard.press('Space');
    await page.getByRole('heading', { name: 'A004C002.mov' }).waitFor();
    await page.getByRole('alert').getByText('Flashing picture at 0:01–0:03').waitFor();
    expect(await position(page).getByText('stopped').count()).toBe(1);
    expect(await axeFindings(page)).toEqual([]);
    // By hand it does.
    await page.keyboard.press('Space');
    await position(page).getByText('1×').waitFor();
    await page.context().close();
  });
});
