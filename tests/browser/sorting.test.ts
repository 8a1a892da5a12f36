// Sorting and clocks in real Chromium: looked at first, one change, one undo; facts of many clips in one change.
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { axeFindings } from '../fixtures/axe.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { addClip } from '../fixtures/clips.ts';
import { eventually } from '../fixtures/eventually.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';

let rig: Rig;
let browser: Browser;
let page: Page;
const noted = (text: string) => ({ notedAt: new Date(text), capturedAt: new Date(text) });
beforeAll(async () => {
  rig = await startRig();
  await addClip(rig, { name: 'A002C001_260530_R2EC.mov', ...noted('2026-05-30T08:00:00Z') });
  await addClip(rig, { name: 'A002C002_260530_R2EC.mov', ...noted('2026-05-30T08:10:00Z') });
  await addClip(rig, { name: 'B001C001_260530_R2EC.mov', camera: 'Crane', byHand: ['camera'], ...noted('2026-05-30T09:00:00Z') });
  browser = await startChromium();
  const context = await browser.newContext();
  await signIn(context, rig.as('assistant'));
  page = await context.newPage();
  await page.goto(`${rig.url}/films/${rig.film}/footage`);
  await page.getByRole('heading', { name: 'Footage' }).waitFor();
});
afterAll(async () => {
  await browser?.close();
  await rig?.close();
});

const facts = async () => Object.fromEntries((await rig.db.clip.findMany({ orderBy: { name: 'asc' } })).map((clip) => [clip.name.slice(0, 8), `${clip.camera} ${clip.card} ${clip.shootDay?.toISOString().slice(0, 10) ?? ''} ${clip.location}`.trim()]));
const undo = async () => page.getByRole('button', { name: 'Undo' }).last().click();

describe('sorting', () => {
  it('says what would be set and why, sets what is chosen, and one undo takes it back', async () => {
    const before = await facts();
    await page.getByRole('button', { name: 'Sort by what the files know' }).click();
    const panel = page.getByRole('dialog', { name: 'Sort by what the files know' });
    await panel.getByText('Camera A: 2 clips').waitFor();
    await panel.getByText('its name begins with A002').first().waitFor();
    // The camera that a person named is not spoken of.
    expect(await panel.getByText(/Camera B/).count()).toBe(0);
    expect(await axeFindings(page)).toEqual([]);
    await panel.getByLabel('Card B001: 1 clip').uncheck();
    await panel.getByRole('button', { name: 'Set 7 facts' }).click();
    await eventually(async () => expect(await facts()).toEqual({ A002C001: 'A A002 2026-05-30', A002C002: 'A A002 2026-05-30', B001C001: 'Crane  2026-05-30' }));
    await undo();
    await eventually(async () => expect(await facts()).toEqual(before));
    expect((await rig.db.clip.findMany({ where: { name: { startsWith: 'A' } } })).every(({ byHand }) => byHand.length === 0)).toBe(true);
    await page.keyboard.press('Control+Shift+Z');
    await eventually(async () => expect((await facts())['A002C001']).toBe('A A002 2026-05-30'));
  });
});

describe('the clock of a camera', () => {
  it('is looked at, set for all clips of the camera, and taken back', async () => {
    await page.getByRole('link', { name: /A002C001/ }).focus();
    await page.getByRole('button', { name: 'Set the clock of camera A' }).click();
    const panel = page.getByRole('dialog', { name: 'Clock of camera A' });
    await panel.getByLabel('Clock of the place').selectOption('120');
    await panel.getByLabel('True day').fill('2026-05-31');
    await panel.getByLabel('True time').fill('00:30:00');
    await panel.getByRole('button', { name: 'Look at what would change' }).click();
    await panel.getByText('The clock is 14 h 30 min behind.').waitFor();
    await panel.getByText('2 clips move.').waitFor();
    await panel.getByText('2026-05-31 00:40:00').waitFor();
    expect(await axeFindings(page)).toEqual([]);
    await page.setViewportSize({ width: 360, height: 740 });
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(360);
    await page.setViewportSize({ width: 1280, height: 720 });
    expect((await facts())['A002C002']).toBe('A A002 2026-05-30');
    await panel.getByRole('button', { name: 'Set the clock' }).click();
    await eventually(async () => expect((await facts())['A002C002']).toBe('A A002 2026-05-31'));
    await page.getByText('2026-05-31 00:30:00 (UTC+2:00)').waitFor();
    await undo();
    await eventually(async () => expect((await facts())['A002C002']).toBe('A A002 2026-05-30'));
    expect(await rig.db.clock.count()).toBe(0);
  });

  it('says beside the field what cannot be', async () => {
    await page.getByRole('link', { name: /A002C001/ }).focus();
    await page.getByRole('button', { name: 'Set the clock of camera A' }).click();
    const panel = page.getByRole('dialog', { name: 'Clock of camera A' });
    await panel.getByLabel('Frame').fill('240');
    await panel.getByRole('button', { name: 'Look at what would change' }).click();
    await panel.getByText('the clip ends before this frame.').first().waitFor();
    await panel.getByLabel('Frame').fill('0');
    await panel.getByText('A second moment, because the clock runs away').click();
    await panel.getByRole('button', { name: 'Look at what would change' }).click();
    await panel.getByText('The two moments are less than half an hour apart').first().waitFor();
    await page.keyboard.press('Escape');
  });
});

describe('facts of many clips', () => {
  it('are set in one change, and one undo gives each its own back', async () => {
    const events = () => rig.db.event.count({ where: { filmId: rig.film } });
    const before = await facts();
    const count = await events();
    await page.locator('[data-clip]').first().focus();
    await page.keyboard.press('Control+a');
    await page.getByRole('heading', { name: '3 clips chosen' }).waitFor();
    await page.getByRole('textbox', { name: 'Location' }).fill('The causeway');
    await page.getByRole('button', { name: 'Set for 3 clips' }).click();
    await eventually(async () => expect(Object.values(await facts()).every((words) => words.endsWith('The causeway'))).toBe(true));
    expect(await events()).toBe(count + 1);
    await undo();
    await eventually(async () => expect(await facts()).toEqual(before));
  });
});
