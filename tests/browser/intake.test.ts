// Intake in real Chromium: a card's folder, what of it is here, its proof, pausing, and going on after the page was loaded again.
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { smallClip } from '../fixtures/small-clip.ts';

let rig: Rig;
let browser: Browser;
let context: BrowserContext;
let page: Page;
let dir: string;
beforeAll(async () => {
  rig = await startRig();
  dir = mkdtempSync(join(tmpdir(), 'rushlight-card-'));
  browser = await startChromium();
  context = await browser.newContext();
  await signIn(context, rig.as('field'));
  page = await context.newPage();
  // Leaving while files are on their way is asked about; the test means it.
  page.on('dialog', (dialog) => void dialog.accept());
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  await rm(dir, { recursive: true, force: true });
});

async function open(): Promise<void> {
  await page.goto(`${rig.url}/films/${rig.film}/footage`);
  await page.getByRole('heading', { name: 'Footage' }).waitFor();
}

async function label(camera: string, card: string): Promise<void> {
  const intake = page.getByRole('group', { name: 'Intake' });
  await intake.getByLabel('Camera').first().fill(camera);
  await intake.getByRole('textbox', { name: 'Card', exact: true }).fill(card);
}

/** A folder as a card has it: clips deep inside, and what is no clip beside them. */
async function card(name: string, clips: Record<string, Buffer>): Promise<string> {
  const folder = join(dir, name);
  mkdirSync(join(folder, 'DCIM', '100MEDIA'), { recursive: true });
  for (const [file, bytes] of Object.entries(clips)) writeFileSync(join(folder, 'DCIM', '100MEDIA', file), bytes);
  return folder;
}

const wholeCard = (name: string) => page.getByRole('region', { name: `Card ${name}` });

describe('intake', () => {
  it('takes a whole folder, keeps its paths, and says that all of it was received only then', async () => {
    await open();
    const clips = { 'A_0001.mp4': await smallClip(), 'A_0002.mp4': await smallClip(), 'A_0003.mp4': await smallClip({ padding: 3_000_000 }) };
    await label('A', 'A001');
    await page.getByLabel('Send a card’s folder').setInputFiles(await card('A001', clips));
    await wholeCard('A001').getByText('All 3 files given here were received, and each checksum is the one made at the source.').waitFor({ timeout: 120_000 });
    const rows = await rig.db.clip.findMany({ where: { card: 'A001' }, orderBy: { name: 'asc' } });
    expect(rows.map(({ name, camera, xxh64, sourceXxh64 }) => [name, camera, xxh64 === sourceXxh64, xxh64])).toEqual(
      await Promise.all(Object.entries(clips).map(async ([name, bytes]) => [name, 'A', true, await xxhash64(bytes)])),
    );
    expect(rows[0]!.originalPath).toMatch(/\/A001\/A001\/DCIM\/100MEDIA\/A_0001\.mp4$/);
    await wholeCard('A001').getByText(await xxhash64(clips['A_0001.mp4'])).waitFor();
  });

  it('keeps what is no clip beside the clips, names what was refused, and does not say that all was received', async () => {
    await label('B', 'B001');
    await page.getByLabel('Send a card’s folder').setInputFiles(await card('B001', { 'B_0001.mp4': await smallClip(), 'MEDIA.TXT': Buffer.from('no video'), 'EMPTY.TAG': Buffer.alloc(0), 'CUT.mp4': (await smallClip()).subarray(0, -40), 'NONE.mp4': Buffer.from('no picture') }));
    await wholeCard('B001').getByText('2 of 5 files were refused and are not here.').waitFor({ timeout: 120_000 });
    await wholeCard('B001').getByText('refused: The file ends').waitFor();
    await wholeCard('B001').getByText('refused: The file holds no moving picture that can be read.').waitFor();
    expect(await rig.db.clip.count({ where: { card: 'B001' } })).toBe(1);
    expect(await rig.db.upload.count({ where: { card: 'B001', keptPath: { not: null }, state: 'arrived' } })).toBe(2);
  });

  it('shows the card file by file: what is missing and why, what was verified, and a list given by hand', async () => {
    await wholeCard('B001').getByRole('link', { name: 'The card, file by file' }).click();
    const proof = page.getByRole('region', { name: 'Card B001' });
    await proof.getByText('Not all received: 2 missing; 3 of 5 verified.').waitFor();
    await proof.getByText('It was refused: The file ends').waitFor();
    await proof.getByText('Whether a card may be wiped is for your crew’s own rule to say').waitFor();
    expect(await axeFindings(page)).toEqual([]);
    await proof.getByLabel('Give a list').setInputFiles({ name: 'camera.md5', mimeType: 'text/plain', buffer: Buffer.from('f5ac8127b3b6b85cdc13f237c6005d80  DCIM/100MEDIA/NEVER.mp4\n') });
    await proof.getByText('3 missing').waitFor();
    await page.goto(`${rig.url}/films/${rig.film}/cards`);
    await page.getByRole('link', { name: 'A001' }).click();
    await page.getByText('All received: each of the 3 files on the list made at the source is here, and every checksum is the same.').waitFor();
    await page.setViewportSize({ width: 360, height: 740 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360);
    await page.setViewportSize({ width: 1280, height: 720 });
    await open();
  });

  it('sends nothing of a file that the film has already', async () => {
    const bytes = await smallClip();
    await label('C', 'C001');
    await page.getByLabel('Send files').setInputFiles({ name: 'C_0001.mp4', mimeType: 'video/mp4', buffer: bytes });
    await wholeCard('C001').getByText('arrived, checksum compared').waitFor({ timeout: 60_000 });
    const before = await rig.db.upload.count();
    await label('C', 'C002');
    await page.getByLabel('Send files').setInputFiles({ name: 'the same.mp4', mimeType: 'video/mp4', buffer: bytes });
    await wholeCard('C002').getByText('arrived, checksum compared').waitFor({ timeout: 60_000 });
    expect(await rig.db.upload.count()).toBe(before);
  });

  it('pauses, and after the page was loaded again goes on where it stood when the file is chosen again', async () => {
    const bytes = await smallClip({ padding: 40_000_000 });
    const file = join(dir, 'D_0001.mp4');
    writeFileSync(file, bytes);
    const link = await context.newCDPSession(page);
    await link.send('Network.enable');
    await link.send('Network.emulateNetworkConditions', { offline: false, latency: 0, downloadThroughput: -1, uploadThroughput: 8_000_000 });
    await label('D', 'D001');
    await page.getByLabel('Send files').setInputFiles(file);
    const upload = () => rig.db.upload.findFirst({ where: { card: 'D001' } });
    const kept = async () => {
      const row = await upload();
      return row ? rig.ground.storage.size('incoming', row.id).catch(() => 0) : 0;
    };
    await expect.poll(kept, { timeout: 60_000 }).toBeGreaterThan(17_000_000);
    await page.getByRole('button', { name: 'Pause' }).click();
    await wholeCard('D001').getByText('paused').waitFor();
    const { id } = (await upload())!;

    await page.reload();
    await page.getByText('Not whole yet: D_0001.mp4.').waitFor();
    const from = await kept();
    expect(from).toBeGreaterThan(17_000_000);
    await label('D', 'D001');
    await page.getByLabel('Send files').setInputFiles(file);
    await wholeCard('D001').getByText('arrived, checksum compared').waitFor({ timeout: 120_000 });
    const uploads = await rig.db.upload.findMany({ where: { card: 'D001' } });
    expect(uploads.map((row) => [row.id, row.state])).toEqual([[id, 'arrived']]);
    expect((await rig.db.clip.findFirstOrThrow({ where: { card: 'D001' } })).sourceXxh64).toBe(await xxhash64(bytes));
  });
});
