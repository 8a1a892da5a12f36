// Dials, buttons and pads in the real page. The devices are simulated at the edge of the browser: what speaks MIDI by an
// access of the shape of Web MIDI (https://www.w3.org/TR/webmidi/), the pad by what getGamepads answers.
import { mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { makeProxy } from '../../server/proxies/make.ts';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { receive } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { CLIPS, makeClip } from '../fixtures/footage.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';

/** What the simulated devices hold. */
interface Simulated {
  allowed: boolean;
  input: { name: string; onmidimessage: ((event: { data: Uint8Array }) => void) | null };
  pad: { mapping: string; buttons: { pressed: boolean }[]; axes: number[] } | null;
}
declare const simulated: Simulated;

let rig: Rig;
let browser: Browser;
let dir: string;
let page: Page;
beforeAll(async () => {
  [rig, browser] = await Promise.all([startRig(), startChromium()]);
  dir = mkdtempSync(join(tmpdir(), 'rushlight-devices-'));
  const file = join(dir, 'pal-25.mov');
  await makeClip(CLIPS['pal-25.mov'], file, rig.ground.tools);
  const { id } = await receive(rig.ground, rig.film, file);
  await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
  const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
  await signIn(context, rig.as('editor'));
  page = await context.newPage();
  await page.addInitScript(() => {
    const input: Simulated['input'] = { name: 'Console (simulated)', onmidimessage: null };
    const allowed = localStorage.getItem('simulated-midi') === 'allowed';
    Object.assign(window, { simulated: { allowed, input, pad: null } satisfies Simulated });
    navigator.requestMIDIAccess = async () => {
      localStorage.setItem('simulated-midi', 'allowed');
      return { inputs: new Map([['1', input]]), onstatechange: null } as unknown as MIDIAccess;
    };
    const query = navigator.permissions.query.bind(navigator.permissions);
    navigator.permissions.query = async (what) => ((what.name as string) === 'midi' ? ({ state: allowed ? 'granted' : 'prompt' } as PermissionStatus) : query(what));
    navigator.getGamepads = () => [simulated.pad as unknown as Gamepad | null];
  });
  await page.goto(`${rig.url}/films/${rig.film}/sweep`);
  await standsAt(0);
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
  if (dir) await rm(dir, { recursive: true, force: true });
});

const standsAt = (frame: number) => page.getByRole('group', { name: 'Position' }).locator('output').getByText(String(frame), { exact: true }).waitFor();
const midi = (...messages: number[][]) =>
  page.evaluate((messages) => {
    for (const message of messages) simulated.input.onmidimessage?.({ data: new Uint8Array(message) });
  }, messages);
const turn = (dial: number, ...values: number[]) => midi(...values.map((value) => [0xb0, dial, value]));
/** Presses buttons of the standard pad, or lets go of all. */
const pad = (...pressed: number[]) =>
  page.evaluate((pressed) => {
    simulated.pad = { mapping: 'standard', buttons: Array.from({ length: 17 }, (_, n) => ({ pressed: pressed.includes(n) })), axes: [0, 0, 0, 0] };
    window.dispatchEvent(new Event('gamepadconnected'));
  }, pressed);
const panel = () => page.getByRole('dialog', { name: 'Hands' });
const controlsOf = (action: string) => panel().getByRole('row', { name: new RegExp(`^${action}`) }).locator('kbd').allTextContents();
const selects = async (): Promise<{ in: number; outExclusive: number; circled: boolean }[]> => rig.db.select.findMany({ where: { removedAt: null }, select: { in: true, outExclusive: true, circled: true } });

it('lets dials in when asked, learns one by turning it both ways, and steps by its notches', async () => {
  await page.keyboard.press('?');
  await panel().getByRole('button', { name: 'Let dials and buttons in' }).click();
  await panel().getByText('Heard: Console (simulated).').waitFor();
  await panel().getByRole('button', { name: 'Change: Step one frame forward' }).click();
  await turn(20, 1, 2);
  await panel().getByText('Turn it a little further, one way and then back:').waitFor();
  await turn(20, 1, 127, 126, 127, 127);
  await eventually(async () => expect(await controlsOf('Step one frame forward')).toEqual(['Arrow Right', 'dial 20, right', 'pad right']));
  expect(await controlsOf('Step one frame back')).toEqual(['Arrow Left', 'dial 20, left', 'pad left']);
  expect(await axeFindings(page)).toEqual([]);
  await page.keyboard.press('Escape');
  await panel().waitFor({ state: 'hidden' });

  await turn(20, 3, 1, 1);
  await standsAt(5);
  await turn(20, 126);
  await standsAt(3);
});

it('takes a console in one go, each control after the other, and leaves out what is skipped', async () => {
  await page.keyboard.press('?');
  await panel().getByRole('button', { name: 'Set up a console, one control after the other' }).click();
  const asks = (label: string) => panel().getByRole('status').getByText(label).waitFor();
  await asks('Step one frame forward');
  await page.keyboard.press('Escape');
  await asks('Take the coarser step forward');
  // A dial that says where it stands.
  await turn(21, 30, 31, 32, 34, 33, 32, 31);
  await asks('Louder');
  await page.keyboard.press('Escape');
  await asks('Play or pause');
  await midi([0x90, 36, 100], [0x80, 36, 0]);
  await asks('Play forward; again for faster');
  await page.keyboard.press('Escape');
  for (const [label, note] of [['Set in at this frame', 40], ['Set out after this frame', 41], ['Drop a select from in to out', 42]] as const) {
    await asks(label);
    await midi([0x90, note, 100], [0x90, note, 0]);
  }
  await asks('Circle the select in hand');
  // A button that says it by a control change.
  await turn(50, 127, 0);
  await asks('Write or draw a note');
  await panel().getByRole('button', { name: 'Enough for now' }).click();
  expect(await controlsOf('Take the coarser step back')).toEqual(['Shift + Arrow Left', 'dial 21, left', 'pad left stick left']);
  expect(await controlsOf('Circle the select in hand')).toEqual(['C', 'button 50', 'pad face left']);
  await page.keyboard.press('Escape');
  await panel().waitFor({ state: 'hidden' });
});

it('cuts and circles a select by the console alone', async () => {
  await page.keyboard.press('Home');
  await standsAt(0);
  await turn(20, 10);
  await standsAt(10);
  await midi([0x90, 40, 100], [0x90, 40, 0]);
  // It stood at 31: five places to the right are five coarser steps of five frames.
  await turn(21, 36);
  await standsAt(35);
  await midi([0x90, 41, 100], [0x90, 41, 0], [0x90, 42, 100], [0x90, 42, 0]);
  await eventually(async () => expect(await selects()).toEqual([{ in: 10, outExclusive: 36, circled: false }]));
  await turn(50, 127, 0);
  await eventually(async () => expect(await selects()).toEqual([{ in: 10, outExclusive: 36, circled: true }]));
});

it('knows dials and their controls again when the page is loaded again', async () => {
  await page.reload();
  await standsAt(0);
  await eventually(async () => {
    await turn(20, 1);
    expect(Number(await page.getByRole('group', { name: 'Position' }).locator('output').textContent())).toBeGreaterThan(0);
  });
});

it('works by a pad that nobody set up, which goes on stepping while it is held', async () => {
  await page.keyboard.press('Home');
  await standsAt(0);
  await pad(15);
  await standsAt(1);
  await eventually(async () => expect(Number(await page.getByRole('group', { name: 'Position' }).locator('output').textContent())).toBeGreaterThan(4));
  await pad();
  const from = Number(await page.getByRole('group', { name: 'Position' }).locator('output').textContent());
  for (const button of [4, 15, 5, 1]) {
    await pad(button);
    await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
    await pad();
    await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  }
  await eventually(async () => expect((await selects()).length).toBe(2));
  const made = (await selects()).find((select) => !select.circled)!;
  expect(made.outExclusive - made.in).toBe(2);
  expect(made.in).toBeGreaterThanOrEqual(from);
});
