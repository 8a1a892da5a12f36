// The Music room in real Chromium, on real files that the real worker has listened to.
import { mkdtempSync, readFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { startTrackWorker } from '../../server/music/index.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { eventually } from '../fixtures/eventually.ts';
import { addMark, makeSound } from '../fixtures/music.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { addItem } from '../fixtures/slots.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
/** 12 s; a click at 2 s and one at 9 s, far from anything that could be taken for them. */
const CLICKS = "aevalsrc='0.05*sin(2*PI*220*t)+0.9*(between(n,96000,96003)+between(n,432000,432003))':s=48000:d=12";

/** What went wrong inside pages; each test looks that nothing did. */
const broken: string[] = [];
let rig: Rig;
let dir: string;
let browser: Browser;
let worker: Awaited<ReturnType<typeof startTrackWorker>>;
beforeAll(async () => {
  rig = await startRig();
  dir = mkdtempSync(join(tmpdir(), 'rushlight-music-room-'));
  worker = await startTrackWorker(rig.ground);
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
  await worker?.stop();
  await rig?.close();
  await rm(dir, { recursive: true, force: true });
});

afterEach(() => expect(broken.splice(0)).toEqual([]));

async function open(person: Person, room = 'music'): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1280, height: 1000 } });
  await context.addCookies(rig.as(person).cookie.split('; ').map((pair) => ({ name: pair.slice(0, pair.indexOf('=')), value: pair.slice(pair.indexOf('=') + 1), domain: '127.0.0.1', path: '/' })));
  const page = await context.newPage();
  page.on('pageerror', (error) => broken.push(`${person}: ${error.stack ?? error.message}`));
  await page.goto(`${rig.url}/films/${rig.film}/${room}`);
  await page.getByRole('heading', { level: 1 }).waitFor();
  return page;
}

async function faults(on: Page): Promise<string[]> {
  await on.evaluate(AXE);
  const { violations } = await on.evaluate(() => (window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run());
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' | ')}`);
}

const named = (title: string) => rig.db.track.findFirstOrThrow({ where: { title } });
const live = async (trackId: string, where: { byId?: { not: null } } = {}) => rig.db.mark.findMany({ where: { trackId, removedAt: null, ...where }, orderBy: { atMs: 'asc' } });
/** What people marked; the analysis has marks of its own. */
const byPeople = (trackId: string) => live(trackId, { byId: { not: null } });
const undo = (on: Page, said: string | RegExp) => on.getByRole('status').locator('div').filter({ hasText: said }).getByRole('button', { name: 'Undo' }).click();
const wave = (on: Page, title: string) => on.getByRole('slider', { name: `Moment in ${title}` });
const at = async (on: Page, title: string) => Number(await wave(on, title).getAttribute('aria-valuenow'));

describe('the music room', () => {
  it('takes music, refuses what is none in words, and shows each when it was listened to', async () => {
    const page = await open('editor');
    await makeSound(join(dir, 'Low water.wav'), CLICKS);
    await makeSound(join(dir, 'Market waltz.flac'), "aevalsrc='0.5*sin(2*PI*330*t)':s=44100:d=12");
    await page.getByLabel('Send pieces of music').setInputFiles([join(dir, 'Low water.wav'), join(dir, 'Market waltz.flac')]);
    await page.getByRole('article', { name: /Low water/ }).getByText('0:12').waitFor({ timeout: 60_000 });
    await page.getByRole('article', { name: /Market waltz/ }).getByText(/LUFS, peak −6.0 dBTP/).waitFor({ timeout: 60_000 });
    await page.getByLabel('Send pieces of music').setInputFiles({ name: 'words.mp3', mimeType: 'audio/mpeg', buffer: Buffer.from('no music '.repeat(99)) });
    await page.getByText(/words.mp3: refused: The file holds no music that can be read/).waitFor();
    await page.getByText(/bookkeeping, not legal advice: local law and the licence itself decide/).waitFor();
    await wave(page, 'Low water').waitFor();
    expect(await faults(page)).toEqual([]);
    if (process.env['PICTURES']) await page.screenshot({ path: join(process.env['PICTURES'], 'music-two.png'), fullPage: true });
    await page.context().close();
  });

  it('plays what the wave shows: Chromium has every moment of the copy where it is in the original, within a millisecond', async () => {
    const page = await open('editor');
    const { id, version } = await named('Low water');
    const loudest = await page.evaluate(async (address) => {
      const bytes = await (await fetch(address)).arrayBuffer();
      const sound = (await new OfflineAudioContext(1, 1, 48_000).decodeAudioData(bytes)).getChannelData(0);
      const peak = (from: number, to: number) => {
        let best = from;
        for (let n = from; n < to; n++) if (Math.abs(sound[n]!) > Math.abs(sound[best]!)) best = n;
        return best;
      };
      return [peak(0, 240_000), peak(240_000, 560_000)];
    }, rig.at(`/tracks/${id}/media/${version}/play.m4a`));
    for (const [n, sample] of [96_001.5, 432_001.5].entries()) expect(Math.abs(loudest[n]! - sample)).toBeLessThanOrEqual(48);
    await page.context().close();
  });

  it('is heard from where it stands, changes over at the same moment, at one loudness', async () => {
    const page = await open('editor');
    await wave(page, 'Low water').focus();
    await page.keyboard.press('Home');
    await page.keyboard.press('PageDown');
    const from = await at(page, 'Low water');
    expect(from).toBeGreaterThan(5000);
    await page.keyboard.press('Space');
    await eventually(async () => expect(await at(page, 'Low water')).toBeGreaterThan(from + 200));
    const louder = page.getByRole('article', { name: /Market waltz/ });
    await louder.getByText(/heard \d+\.\d dB lower/).waitFor();
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('2');
    await louder.getByRole('button', { name: 'Pause' }).waitFor();
    await page.keyboard.press('e');
    await louder.getByText(/dB lower/).waitFor({ state: 'detached' });
    await louder.getByRole('button', { name: 'Pause' }).click();
    await louder.getByRole('button', { name: 'Play Market waltz' }).waitFor();
    await page.context().close();
  });

  it('locks one, tells the others, and takes it back', async () => {
    const [editor, assistant] = [await open('editor'), await open('assistant')];
    const card = (on: Page, title: string) => on.getByRole('article', { name: new RegExp(title) });
    await card(editor, 'Market waltz').getByRole('button', { name: 'Lock' }).click();
    await card(assistant, 'Market waltz').getByText('Locked: the music of the film').waitFor();
    expect(await assistant.getByRole('button', { name: /^(Lock|Unlock)/ }).count()).toBe(0);
    await card(editor, 'Market waltz').getByRole('button', { name: 'Unlock' }).waitFor();
    await card(editor, 'Low water').getByRole('button', { name: 'Lock' }).click();
    await card(assistant, 'Low water').getByText('Locked: the music of the film').waitFor();
    await undo(editor, 'is a candidate again');
    await card(assistant, 'Market waltz').getByText('Locked: the music of the film').waitFor();
    await card(assistant, 'Market waltz').getByRole('button', { name: 'Words and rights' }).click();
    await assistant.getByRole('combobox', { name: 'Rights' }).selectOption('kept');
    await assistant.getByRole('button', { name: 'Write down' }).click();
    await card(editor, 'Market waltz').getByText('Rights kept').waitFor();
    await card(editor, 'Market waltz').getByRole('button', { name: 'Unlock' }).click();
    await card(editor, 'Market waltz').getByRole('button', { name: 'Lock Market waltz' }).waitFor();
    await card(editor, 'Low water').getByRole('button', { name: 'Lock' }).click();
    await card(assistant, 'Low water').getByText('Locked: the music of the film').waitFor();
    await Promise.all([editor.context().close(), assistant.context().close()]);
  });

  it('zooms from the whole track to single samples by wheel and keys, and reads only what is looked at', async () => {
    const page = await open('editor');
    const asked: string[] = [];
    page.on('request', (request) => /wave-\d/.test(request.url()) && asked.push(`${/wave-(\d)/.exec(request.url())![1]} ${request.headers()['range']}`));
    const box = (await wave(page, 'Low water').boundingBox())!;
    await page.mouse.move(box.x + box.width / 6, box.y + 150);
    for (let n = 0; n < 30; n++) await page.mouse.wheel(0, -240);
    await eventually(() => expect(asked.some((one) => one.startsWith('0 bytes='))).toBe(true));
    // The moment under the pointer stayed there: 2 s, the sixth of the track.
    expect(asked.filter((one) => one.startsWith('0 '))).toContain('0 bytes=180224-196607');
    // 16 KB a block of 1.2 MB: what lies elsewhere was not asked for.
    expect(asked.filter((one) => one.startsWith('0 ')).length).toBeLessThanOrEqual(3);
    if (process.env['PICTURES']) await page.screenshot({ path: join(process.env['PICTURES'], 'music-samples.png') });
    await page.getByRole('heading', { level: 1 }).focus();
    await page.keyboard.press('0');
    await page.keyboard.press('+');
    await page.context().close();
  });
});

describe('marks', () => {
  it('are added, named, moved by keys and by hand, deleted, and every step is taken back', async () => {
    const page = await open('editor');
    const { id } = await named('Low water');
    await wave(page, 'Low water').focus();
    await page.keyboard.press('PageDown');
    const stands = await at(page, 'Low water');
    await page.keyboard.press('a');
    await eventually(async () => expect((await byPeople(id)).map(({ kind, atMs, byId }) => [kind, atMs, byId])).toEqual([['named', stands, rig.as('editor').userId]]));
    const hand = page.getByRole('region', { name: /^Mark in hand/ });
    await hand.waitFor();
    await page.keyboard.press('n');
    await page.keyboard.type('the gulls');
    await page.keyboard.press('Enter');
    await page.getByRole('row', { name: /the gulls/ }).waitFor();
    await wave(page, 'Low water').focus();
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await eventually(async () => expect((await byPeople(id))[0]!.atMs).toBe(stands + 20));
    // By hand: 100 px to the left on the whole track.
    const box = (await wave(page, 'Low water').boundingBox())!;
    const x = box.x + ((stands + 20) / 12_000) * box.width;
    await page.mouse.move(x, box.y + 20);
    await page.mouse.down();
    await page.mouse.move(x - 60, box.y + 20);
    await page.mouse.move(x - 100, box.y + 20);
    await page.mouse.up();
    await eventually(async () => expect(Math.abs((await byPeople(id))[0]!.atMs - (stands + 20 - (100 / box.width) * 12_000))).toBeLessThan(15));
    await page.getByRole('row', { name: /the gulls/ }).getByRole('button', { name: /^Take/ }).click();
    // Taken back before the page has heard that the mark is deleted: that is what is meant, and then the move before it.
    const answer = Promise.withResolvers<void>();
    await page.route(/\/marks$/, async (route) => {
      const response = await route.fetch();
      await answer.promise;
      await route.fulfill({ response });
    });
    await hand.getByRole('button', { name: 'Delete' }).click();
    await eventually(async () => expect(await byPeople(id)).toEqual([]));
    for (let n = 0; n < 2; n++) await page.keyboard.press('Control+z');
    answer.resolve();
    await eventually(async () => expect((await byPeople(id)).map(({ name, atMs }) => [name, atMs])).toEqual([['the gulls', stands + 20]]));
    expect(await faults(page)).toEqual([]);
    await page.context().close();
  });

  it('are tapped in while it plays, snapped to what was heard, written together and undone together', async () => {
    const page = await open('editor');
    const track = await named('Low water');
    await rig.db.mark.deleteMany({ where: { trackId: track.id } });
    for (let n = 0; n < 60; n++) await addMark(rig, track, 100 + n * 200);
    await page.reload();
    await wave(page, 'Low water').focus();
    await page.keyboard.press('Home');
    await page.keyboard.press('Space');
    await eventually(async () => expect(await at(page, 'Low water')).toBeGreaterThan(400));
    for (let n = 0; n < 4; n++) {
      const before = await at(page, 'Low water');
      await page.keyboard.press('t');
      await eventually(async () => expect(await at(page, 'Low water')).toBeGreaterThan(before + 250));
    }
    await page.keyboard.press('Space');
    const tapped = () => rig.db.mark.findMany({ where: { trackId: track.id, byId: { not: null }, removedAt: null } });
    await page.getByText(/\d tapped in\./).waitFor();
    const marks = await tapped();
    expect(marks.length).toBeGreaterThanOrEqual(3);
    // Beats stand at 100, 300, 500 …: a tap within 90 ms of one stands on it, and none is left nearer than that beside one.
    const apart = marks.map(({ atMs }) => Math.min((atMs + 100) % 200, 200 - ((atMs + 100) % 200)));
    expect(apart.filter((distance) => distance > 0 && distance <= 90)).toEqual([]);
    expect(apart).toContain(0);
    await undo(page, 'tapped in.');
    await eventually(async () => expect(await tapped()).toEqual([]));
    await page.context().close();
  });

  it('beats counted half are doubled, and that is taken back', async () => {
    const page = await open('editor');
    const { id } = await named('Low water');
    await page.getByRole('heading', { name: 'Beats at hand: 60' }).waitFor();
    await page.getByRole('button', { name: '×2 beats' }).click();
    await page.getByRole('heading', { name: 'Beats at hand: 119' }).waitFor();
    expect((await live(id)).slice(0, 3).map(({ atMs }) => atMs)).toEqual([100, 200, 300]);
    await undo(page, 'Twice as many beats.');
    await page.getByRole('heading', { name: 'Beats at hand: 60' }).waitFor();
    await page.context().close();
  });
});

describe('ties', () => {
  it('bind a line to a mark, from the mark and from the line, and both show it', async () => {
    const track = await named('Low water');
    await rig.db.mark.deleteMany({ where: { trackId: track.id } });
    await addMark(rig, track, 2000, { kind: 'turn', name: 'strings enter' });
    await addMark(rig, track, 9000, { kind: 'hit' });
    const part = await addItem(rig, 'part', 'The crossing', null, { targetFrames: 200 });
    const [music, outline] = [await open('editor'), await open('director', 'outline')];
    await music.getByRole('row', { name: /strings enter/ }).getByRole('button', { name: /^Take/ }).click();
    await music.getByRole('combobox', { name: 'Tie to the start of' }).selectOption({ value: part.id });
    await music.getByRole('button', { name: 'Tie', exact: true }).click();
    await music.getByRole('row', { name: /strings enter/ }).getByText('The crossing').waitFor();
    await outline.getByText('Begins on strings enter at 0:02.000 of “Low water”').waitFor();
    await outline.getByRole('textbox', { name: /^Sequence/ }).first().focus();
    await outline.getByRole('button', { name: 'Role' }).click();
    await outline.getByRole('combobox', { name: 'Begins on' }).selectOption({ label: 'Hit at 0:09.000' });
    await music.getByRole('row', { name: /Hit/ }).getByText('The crossing').waitFor();
    if (process.env['PICTURES']) await outline.screenshot({ path: join(process.env['PICTURES'], 'outline-tied.png') });
    await outline.getByRole('button', { name: 'Untie The crossing' }).click();
    await outline.getByText(/^Begins on Hit/).waitFor({ state: 'detached' });
    await undo(outline, 'is untied');
    await outline.getByText('Begins on Hit at 0:09.000 of “Low water”').waitFor();
    expect(await faults(outline)).toEqual([]);
    await Promise.all([music.context().close(), outline.context().close()]);
  });

  it('a viewer has no music room', async () => {
    const page = await open('viewer');
    await page.getByText(/does not include this room/).waitFor();
    await page.context().close();
  });
});
