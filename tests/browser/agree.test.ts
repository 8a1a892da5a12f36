import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { preview, type PreviewServer } from 'vite';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Clip, Item } from '#prisma';
import type { Note } from '../../server/notes/contract.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { addClip } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { buildTestPage } from '../fixtures/test-page.ts';
import { addItem, addSelect } from '../fixtures/slots.ts';

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

let rig: Rig;
let browser: Browser;
let server: PreviewServer;
let outDir: string;
let clip: Clip;
let slot: Item;

beforeAll(async () => {
  rig = await startRig();
  // 10:00:00:00 at 24000/1001, so frame 100 is 10:00:04:04.
  clip = await addClip(rig, { startFrame: 864_000 });
  slot = await addItem(rig, 'slot', 'Gulls', (await addItem(rig, 'part', 'Opening: low water', null, { targetFrames: 240 })).id);
  // What the opening leaves of the running time has somewhere to go.
  await addItem(rig, 'part', 'The crossing');
  outDir = mkdtempSync(join(tmpdir(), 'rushlight-agree-'));
  await buildTestPage('agree', outDir);
  server = await preview({
    configFile: false,
    root: outDir,
    build: { outDir },
    logLevel: 'silent',
    // The Host stays that of the page, or the server would take the page for another site.
    preview: { port: 0, host: '127.0.0.1', proxy: { '/api': { target: rig.url, changeOrigin: false }, '/socket.io': { target: rig.url, changeOrigin: false, ws: true } } },
  });
  browser = await startChromium();
});
afterAll(async () => {
  await browser?.close();
  await server?.close();
  await rig?.close();
  if (outDir) rmSync(outDir, { recursive: true, force: true });
});

async function open(person: Person, query = ''): Promise<Page> {
  const { port } = server.httpServer.address() as { port: number };
  const context = await browser.newContext({ viewport: { width: 1100, height: 900 } });
  await signIn(context, rig.as(person));
  const page = await context.newPage();
  await page.goto(`http://127.0.0.1:${port}/?film=${rig.film}${query}`);
  await page.getByRole('heading', { level: 1 }).waitFor();
  return page;
}

const notes = async (): Promise<Note[]> => (await rig.as('director').get(rig.at('/state'))).body.rows.notes;

async function faults(on: Page): Promise<string[]> {
  await on.evaluate(AXE);
  const { violations } = await on.evaluate(() => (window as unknown as { axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> } }).axe.run());
  return violations.map(({ id, nodes }) => `${id}: ${nodes.map(({ html }) => html).join(' | ')}`);
}

describe('the ledger room', () => {
  it('says where the work stands, follows the changes of others, and leads to the exact place', async () => {
    const [director, editor] = [await open('director'), await open('editor')];
    await director.getByText('Nothing waits on you.').waitFor();
    await editor.getByRole('link', { name: /^Empty slot Gulls: nothing is offered/ }).waitFor();
    const line = (on: Page) => on.getByRole('row', { name: /^Opening: low water/ }).getByRole('cell').allTextContents();
    expect(await line(director)).toEqual(['1', '0', '0', '0:00 of 0:10, 0:10 short', '0']);

    const select = await addSelect(rig, { clip, in: 24, outExclusive: 216 });
    const offer = (await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body;
    const due = director.getByRole('link', { name: /^Verdict Gulls: A001.mov is offered/ });
    await due.waitFor();
    expect(await due.getAttribute('href')).toBe(`/films/${rig.film}/picks/${slot.id}?frame=24`);
    await eventually(async () => expect(await editor.getByRole('link', { name: /^Empty slot/ }).count()).toBe(0));

    await rig.as('director').post(rig.at(`/offers/${offer.id}/verdict`), { verdict: 'approve', decisions: 0 });
    await eventually(async () => expect(await line(editor)).toEqual(['1', '1', '1', '0:08 of 0:10, 0:02 short', '0']));
    expect(await faults(director)).toEqual([]);
    await Promise.all([director.context().close(), editor.context().close()]);
  });
});

describe('notes', () => {
  it('are written by keyboard with a name completed, appear to the other at once, and show exactly their frame', async () => {
    const [director, editor] = [await open('director', `&clip=${clip.id}`), await open('editor', `&clip=${clip.id}`)];
    const field = director.getByRole('textbox', { name: 'Note at 10:00:04:04' });
    await field.focus();
    await director.keyboard.type('Hold this, @test e');
    await director.getByRole('listbox', { name: 'Members to address' }).waitFor();
    expect(await field.getAttribute('aria-activedescendant')).toBe(await director.getByRole('option', { selected: true }).getAttribute('id'));
    expect(await faults(director)).toEqual([]);
    await director.keyboard.press('Enter');
    await director.keyboard.type('please');
    expect(await field.inputValue()).toBe('Hold this, @Test editor please');
    await director.keyboard.press('Control+Enter');

    const card = editor.getByRole('article', { name: 'Note by Test director at 10:00:04:04' });
    await card.getByText('@Test editor').waitFor();
    expect(await notes()).toMatchObject([{ in: 100, outExclusive: 101, addressed: [rig.as('editor').userId] }]);
    await rig.as('editor').post(rig.at('/notes'), { clipId: clip.id, in: 7, text: 'Early gull' });
    await editor.getByRole('button', { name: 'Show 10:00:00:07' }).press('Enter');
    expect(await editor.locator('output').textContent()).toBe('7');
    expect(await editor.getByRole('article', { name: /at 10:00:00:07$/ }).getAttribute('aria-current')).toBe('true');

    await card.getByRole('button', { name: 'Reply' }).press('Enter');
    await editor.keyboard.type('Two seconds?');
    await editor.keyboard.press('Control+Enter');
    await director.getByRole('list', { name: 'Replies' }).getByText('Two seconds?').waitFor();
    await Promise.all([director.context().close(), editor.context().close()]);
  });

  it('choose among names with the arrows, close the list with Escape, and leave the text alone', async () => {
    const on = await open('director', `&clip=${clip.id}`);
    const field = on.getByRole('textbox', { name: 'Note at 10:00:04:04' });
    await field.focus();
    await on.keyboard.type('@');
    const options = on.getByRole('option');
    const first = await options.first().textContent();
    await on.keyboard.press('ArrowDown');
    expect(await on.getByRole('option', { selected: true }).textContent()).toBe(await options.nth(1).textContent());
    await on.keyboard.press('ArrowUp');
    expect(await on.getByRole('option', { selected: true }).textContent()).toBe(first);
    await on.keyboard.press('Escape');
    expect([await options.count(), await field.inputValue()]).toEqual([0, '@']);
    await on.context().close();
  });

  it('are drawn in shares of the picture, stroke by stroke, and strokes are taken back', async () => {
    const on = await open('director', `&clip=${clip.id}`);
    const box = (await on.locator('#picture').boundingBox())!;
    const stroke = async (...points: [number, number][]) => {
      const [[x, y], ...rest] = points as [[number, number], ...[number, number][]];
      await on.mouse.move(box.x + x * box.width, box.y + y * box.height);
      await on.mouse.down();
      for (const [a, b] of rest) await on.mouse.move(box.x + a * box.width, box.y + b * box.height);
      await on.mouse.up();
    };
    await stroke([0.25, 0.5], [0.5, 0.75]);
    await stroke([0.75, 0.25]);
    // Out of the picture and back: a point stays on its edge.
    await stroke([0.5, 0.5], [1.2, 0.5]);
    await on.getByText('3 strokes drawn').waitFor();
    await stroke([0.1, 0.1]);
    await on.getByRole('button', { name: 'Take back the last stroke' }).press('Enter');
    await on.getByRole('textbox', { name: /^Note at/ }).fill('Along here');
    await on.getByRole('button', { name: 'Write note' }).press('Enter');
    await on.getByText('with a drawing').waitFor();
    const { strokes: drawn } = await eventually(async () => {
      const { drawing } = (await notes()).find(({ text }) => text === 'Along here') ?? {};
      expect(drawing).toBeDefined();
      return drawing!;
    });
    expect(drawn.map((points) => [points[0], points.at(-1)])).toEqual([
      [[0.25, 0.5], [0.5, 0.75]],
      [[0.75, 0.25], [0.75, 0.25]],
      [[0.5, 0.5], [1, 0.5]],
    ]);
    await on.context().close();
  });

  it('are settled, opened again, changed, and removed with undo; nobody else may change the words', async () => {
    const { body: note } = await rig.as('director').post(rig.at('/notes'), { clipId: clip.id, in: 50, text: 'Softer here' });
    const [director, editor] = [await open('director', `&clip=${clip.id}`), await open('editor', `&clip=${clip.id}`)];
    const card = (on: Page) => on.getByRole('article', { name: 'Note by Test director at 10:00:02:02' });
    expect(await card(editor).getByRole('button', { name: 'Change' }).count()).toBe(0);
    await card(director).getByRole('button', { name: 'Change' }).press('Enter');
    await director.getByRole('textbox', { name: 'Change the note' }).fill('Softer, and longer');
    await director.keyboard.press('Control+Enter');
    await card(editor).getByText('Softer, and longer').waitFor();
    await card(editor).getByRole('button', { name: 'Settle' }).press('Enter');
    await card(director).waitFor({ state: 'detached' });
    await director.getByRole('checkbox', { name: 'Show the settled one too' }).check();
    await card(director).getByText('Settled by Test editor').waitFor();
    await card(director).getByRole('button', { name: 'Open again' }).press('Enter');
    await card(editor).getByRole('button', { name: 'Remove' }).press('Enter');
    await card(director).waitFor({ state: 'detached' });
    await editor.getByRole('status').filter({ hasText: 'Note removed.' }).getByRole('button', { name: 'Undo' }).last().press('Enter');
    await card(director).waitFor();
    expect((await notes()).find(({ id }) => id === note.id)).toMatchObject({ text: 'Softer, and longer', settledAt: null });
    await Promise.all([director.context().close(), editor.context().close()]);
  });

  it('keep what was written when the server refuses', async () => {
    const on = await open('director', `&clip=${clip.id}`);
    await on.getByRole('button', { name: 'Write note' }).press('Enter');
    await on.getByRole('alert').getByText('Write a few words.').waitFor();
    await rig.db.clip.update({ where: { id: clip.id }, data: { removedAt: new Date() } });
    const field = on.getByRole('textbox', { name: /^Note at/ });
    await field.fill('Too late');
    await on.keyboard.press('Control+Enter');
    await on.getByRole('alert').getByText('The note “Too late”: The clip was removed; restore it first.').waitFor();
    expect((await notes()).map(({ text }) => text)).not.toContain('Too late');
    await rig.db.clip.update({ where: { id: clip.id }, data: { removedAt: null } });
    await on.context().close();
  });
});
