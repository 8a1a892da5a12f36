import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import { build, preview } from 'vite';
import { budgetOf } from '../../server/core/budget.ts';
import { fitProblemOf, type FitProblem } from '../../server/core/fit-problem.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { dice, fixed, linesOf } from '../fixtures/outlines.ts';
import type { Figure } from './run.ts';

const under = (path: string) => fileURLToPath(new URL(path, import.meta.url));
const SLOTS = 500;
const MARKS = 2000;
const TOTAL = 14_250;
const ROUNDS = 21;
/** Long enough for some frames to be drawn. */
const LEAST_MS = 100;
/** A gap of more than two frames at 60 a second is seen. */
const BAR = 2;
const FRAME_MS = 1000 / 60;

/**
 * 500 slots fitted to 2,000 marks in Chromium as the page does it, in its worker: the longest time between two frames
 * meanwhile, in the middle one of the rounds, and beside it that of a page with nothing to do, since others use the machine
 * as well. Once as the solver is quickest, without parts of a fixed length, and once with fifty of them.
 */
export default async function fitPageBench(): Promise<Figure[]> {
  const outDir = mkdtempSync(join(tmpdir(), 'rushlight-fit-bench-'));
  const shared = { configFile: under('../../web/vite.config.ts'), root: under('../browser/page/fit'), logLevel: 'silent', build: { outDir, emptyOutDir: true } } as const;
  await build(shared);
  const server = await preview({ ...shared, preview: { port: 0, host: '127.0.0.1' } });
  const browser = await startChromium();
  try {
    const page = await browser.newPage();
    await page.goto(`http://127.0.0.1:${(server.httpServer.address() as { port: number }).port}/`);
    const figures: Figure[] = [];
    for (const [words, problem] of [['', problemOf(false)], [', 50 parts held', problemOf(true)]] as const) {
      const fits = await watched(page, problem);
      const idle = await watched(page, Math.max(fits.took, LEAST_MS));
      figures.push({ figure: `longest gap between frames while 500 slots are fitted to 2,000 marks in the page${words}`, value: fits.gap, unit: 'frames at 60 a second', bar: BAR, ok: fits.gap <= BAR });
      figures.push({ figure: `longest gap between frames in as long a time with nothing to do${words}`, value: idle.gap, unit: 'frames at 60 a second', bar: null, ok: null });
      figures.push({ figure: `500 slots fitted to 2,000 marks in the worker of the page${words}`, value: fits.took, unit: 'ms', bar: null, ok: null });
    }
    return figures;
  } finally {
    await browser.close();
    await server.close();
    rmSync(outDir, { recursive: true, force: true });
  }
}

/** The longest gap of a round, of the round in the middle, and how long the quickest took. */
async function watched(page: Page, given: FitProblem | number): Promise<{ gap: number; took: number }> {
  const gaps: number[] = [];
  let quickest = Infinity;
  for (let n = 0; n < ROUNDS; n++) {
    const { took, frames } = await page.evaluate((what) => (window as unknown as { fitWatched(what: FitProblem | number): Promise<{ took: number; frames: number[] }> }).fitWatched(what), given);
    quickest = Math.min(quickest, took);
    gaps.push(Math.max(...frames.map((at, i) => at - (frames[i - 1] ?? at))));
  }
  return { gap: round(gaps.toSorted((a, b) => a - b)[ROUNDS >> 1]! / FRAME_MS), took: round(quickest) };
}

/** 10 sequences of 10 subsequences of 5 slots; of the subsequences every second has a fixed length, or none. */
function problemOf(held: boolean): FitProblem {
  const roll = dice(4);
  const times = <T>(count: number, of: (n: number) => T): T[] => Array.from({ length: count }, (_, n) => of(n));
  const lines = linesOf(times(10, () => ({ inside: times(10, (n) => ({ ...(held && n % 2 ? { wish: fixed(142) } : {}), inside: times(SLOTS / 100, () => ({})) })) })));
  const marks = times(MARKS, () => ({ frame: 1 + Math.floor(roll() * (TOTAL - 2)), strength: roll() }));
  return fitProblemOf(lines, budgetOf(lines, TOTAL, { num: 25, den: 1 }), TOTAL, marks, [])!;
}

const round = (value: number): number => Math.round(value * 100) / 100;
