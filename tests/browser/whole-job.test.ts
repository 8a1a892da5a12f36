// The main job, end to end, by two people in two windows of real Chromium on the real server: a clip is sent over a link
// that is cut in the middle, becomes playable, is cut to the frame, offered, approved, spoken of, and counted.
import { mkdtempSync, readFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { xxhash64 } from 'hash-wasm';
import { startProxyWorker, type ProxyWorker } from '../../server/proxies/index.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { CLIPS, makeClip } from '../fixtures/footage.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { addItem } from '../fixtures/slots.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const BYTES_A_SECOND = 400_000;

let rig: Rig;
let worker: ProxyWorker;
let browser: Browser;
let dir: string;
let file: string;
let slotId: string;

beforeAll(async () => {
  rig = await startRig();
  worker = await startProxyWorker(rig.ground);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-job-'));
  file = join(dir, 'A001C002.mov');
  await makeClip(CLIPS['pal-25.mov'], file, rig.ground.tools);
  const part = await addItem(rig, 'part', 'Opening: low water', null, { targetFrames: 240 });
  slotId = (await addItem(rig, 'slot', 'Posts of the causeway', part.id, { targetFrames: 96 })).id;
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
  await worker?.stop();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

async function window_(person: Person): Promise<{ context: BrowserContext; page: Page }> {
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  await signIn(context, rig.as(person));
  return { context, page: await context.newPage() };
}

async function faults(page: Page): Promise<string[]> {
  await page.evaluate(AXE);
  const { violations } = await page.evaluate(() => (window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run());
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html.slice(0, 160)).join(' | ')}`);
}

describe('the whole job', () => {
  it('goes from an upload in the field to an approved take in its slot', async () => {
    const [editor, director] = [await window_('editor'), await window_('director')];
    const url = (path: string) => `${rig.url}/films/${rig.film}${path}`;
    await editor.page.goto(url('/footage'));
    await director.page.goto(url('/footage'));
    await director.page.getByRole('heading', { name: 'Footage' }).waitFor();

    // Over a slow link that is cut in the middle, for longer than a moment.
    const link = await editor.context.newCDPSession(editor.page);
    await link.send('Network.enable');
    await link.send('Network.emulateNetworkConditions', { offline: false, latency: 20, downloadThroughput: -1, uploadThroughput: BYTES_A_SECOND });
    await editor.page.getByLabel('Camera').first().fill('A');
    await editor.page.getByLabel('Send files').setInputFiles(file);
    const meter = editor.page.getByRole('progressbar', { name: 'A001C002.mov' });
    await expect.poll(() => meter.evaluate((one: HTMLProgressElement) => one.value), { timeout: 30_000 }).toBeGreaterThan(0);
    await editor.context.setOffline(true);
    expect(await rig.db.clip.count({ where: { filmId: rig.film } })).toBe(0);
    await expect.poll(async () => (await rig.db.upload.findFirst({ where: { filmId: rig.film } }))?.state).toBe('arriving');
    await editor.context.setOffline(false);
    await link.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: -1 });
    await editor.page.getByText('arrived, checksum compared').waitFor({ timeout: 60_000 });
    const clip = await rig.db.clip.findFirstOrThrow({ where: { filmId: rig.film } });
    expect(clip.xxh64).toBe(await xxhash64(readFileSync(file)));
    expect(clip.sourceXxh64).toBe(clip.xxh64);

    // It appears in the other window by itself, and becomes playable.
    await director.page.getByRole('link', { name: /A001C002/ }).first().waitFor();
    await expect.poll(async () => (await rig.db.clip.findUniqueOrThrow({ where: { id: clip.id } })).state, { timeout: 60_000 }).toBe('ready');

    // Cut to the frame, by keyboard alone: in at 25, out after 40.
    await editor.page.goto(url(`/sweep/${clip.id}?frame=25`));
    const frame = editor.page.getByRole('status').or(editor.page.locator('output')).filter({ hasText: /^\d+$/ }).first();
    await expect.poll(() => frame.textContent(), { timeout: 20_000 }).toBe('25');
    expect(await editor.page.getByText('10:00:01:00').count()).toBeGreaterThan(0);
    await editor.page.keyboard.press('i');
    for (let n = 26; n <= 40; n++) {
      await editor.page.keyboard.press('ArrowRight');
      await expect.poll(() => frame.textContent()).toBe(String(n));
    }
    await editor.page.keyboard.press('o');
    await editor.page.keyboard.press('d');
    await expect.poll(() => rig.db.select.count({ where: { filmId: rig.film, removedAt: null } })).toBe(1);
    const select = await rig.db.select.findFirstOrThrow({ where: { filmId: rig.film } });
    expect([select.in, select.outExclusive]).toEqual([25, 41]);
    await editor.page.getByText('Select dropped.').first().waitFor();
    await editor.page.keyboard.press('c');
    await expect.poll(async () => (await rig.db.select.findUniqueOrThrow({ where: { id: select.id } })).circled).toBe(true);

    // Offered with one stroke; the director, who looks at the slot, sees it come.
    await director.page.goto(url(`/picks/${slotId}`));
    await director.page.getByText('Nothing is on offer for this slot yet.').waitFor();
    await editor.page.keyboard.press('1');
    await director.page.getByText('offered by Test editor').waitFor();
    expect(await faults(director.page)).toEqual([]);

    // A note on the very frame, then the verdict.
    await director.page.getByText('frame 25').or(director.page.locator('output', { hasText: /^25$/ })).first().waitFor();
    await director.page.keyboard.press('n');
    await director.page.getByRole('textbox', { name: /note/i }).first().fill('Hold the last post a little longer.');
    await director.page.keyboard.press('Control+Enter');
    await expect.poll(() => rig.db.note.count({ where: { filmId: rig.film } })).toBe(1);
    const note = await rig.db.note.findFirstOrThrow({ where: { filmId: rig.film } });
    expect([note.in, note.outExclusive, note.clipId]).toEqual([25, 26, clip.id]);
    await editor.page.getByText('Hold the last post a little longer.').waitFor();
    await director.page.getByRole('button', { name: 'Approve' }).click();
    await director.page.getByText('approved', { exact: true }).first().waitFor();
    expect(await rig.db.offer.count({ where: { slotId, verdict: 'approve' } })).toBe(1);

    // Both ledgers say the same.
    for (const { page } of [editor, director]) {
      await page.goto(url('/ledger'));
      await page.getByRole('heading', { name: 'Ledger' }).waitFor();
    }
    for (const person of ['editor', 'director'] as const) {
      const { body } = await rig.as(person).get(rig.at('/ledger'));
      expect(body.whole).toMatchObject({ slots: 1, offered: 1, approved: 1, openNotes: 1, clips: 1 });
      // 16 frames at 25 are 15.3 at 24000/1001.
      expect(body.whole.pickedFrames).toBe(15);
    }
    expect(await faults(director.page)).toEqual([]);
    await editor.page.goto(url('/footage'));
    await editor.page.getByRole('heading', { name: 'Footage' }).waitFor();
    expect(await faults(editor.page)).toEqual([]);
    await editor.page.goto(url(`/sweep/${clip.id}`));
    await editor.page.getByRole('heading', { name: 'A001C002.mov' }).waitFor();
    expect(await faults(editor.page)).toEqual([]);
  });
});
