// One step of one frame, from the call until the next paint after the picture was drawn: through a jog cache that holds
// the neighbourhood, and as the first thing after a seek into a part nothing was loaded of.
import type { Page } from 'playwright-core';
import type { Harness } from '../browser/page/player/main.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { startPlayerPage } from '../fixtures/player-page.ts';
import type { Figure } from './run.ts';

declare const harness: Harness;

const CLIP = 'fast-59.94.mp4'; // The most frames a second, so the largest groups to decode.
const WARM_BAR_MS = 33;
const COLD_PAGES = 12;

export default async function jogBench(): Promise<Figure[]> {
  const [site, browser] = await Promise.all([startPlayerPage(), startChromium()]);
  try {
    await site.add(CLIP);
    const page = await site.open(browser, CLIP);
    const warm = await warmSteps(page);
    await page.close();

    const cold: number[] = [];
    for (let n = 0; n < COLD_PAGES; n++) {
      const fresh = await site.open(browser, CLIP);
      cold.push(await coldStep(fresh, 130 + 11 * n, n % 2 ? 1 : -1));
      await fresh.close();
    }
    return [
      { figure: 'one-frame step, jog cache warm, forward, p95', ...bar(p95(warm.forward), WARM_BAR_MS) },
      { figure: 'one-frame step, jog cache warm, back, p95', ...bar(p95(warm.back), WARM_BAR_MS) },
      { figure: 'one-frame step, jog cache cold, p95', ...bar(p95(cold), null) },
    ];
  } finally {
    await browser.close();
    await site.close();
  }
}

/** Steps over two group bounds and back; the walk there and back before it is what warms the cache. */
function warmSteps(page: Page): Promise<{ forward: number[]; back: number[] }> {
  return page.evaluate(async () => {
    const walk = async (by: number) => {
      const times: number[] = [];
      for (let n = 0; n < 100; n++) {
        const from = performance.now();
        await harness.player.step(by);
        await new Promise(requestAnimationFrame);
        times.push(performance.now() - from);
      }
      return times;
    };
    await harness.player.seek(140);
    await walk(1);
    await walk(-1);
    return { forward: await walk(1), back: await walk(-1) };
  });
}

function coldStep(page: Page, frame: number, by: 1 | -1): Promise<number> {
  return page.evaluate(
    async ([frame, by]) => {
      await harness.player.seek(frame);
      const from = performance.now();
      await harness.player.step(by);
      await new Promise(requestAnimationFrame);
      return performance.now() - from;
    },
    [frame, by] as const,
  );
}

const bar = (value: number, most: number | null) => ({ value: Math.round(value * 10) / 10, unit: 'ms', bar: most, ok: most === null ? null : value <= most });

function p95(times: number[]): number {
  return times.sort((a, b) => a - b)[Math.ceil(times.length * 0.95) - 1]!;
}
