// From the stroke for the next clip until its first frame is on screen.
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { makeProxy } from '../../server/proxies/make.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { makeSource, receive } from '../fixtures/clips.ts';
import { startRig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import type { Figure } from './run.ts';

const CLIPS = 25;
const NEXT_BAR_MS = 100;

export default async function sweepBench(): Promise<Figure[]> {
  const rig = await startRig();
  const browser = await startChromium();
  const dir = await mkdtemp(join(tmpdir(), 'rushlight-bench-'));
  try {
    const ids: string[] = [];
    for (let n = 0; n < CLIPS; n++) {
      const { id } = await receive(rig.ground, rig.film, await makeSource(join(dir, `A001C${String(n + 1).padStart(3, '0')}.mov`), { seconds: 6 }), { camera: 'A', byHand: ['camera'] });
      await makeProxy(rig.ground, id, { signal: new AbortController().signal, lastTry: true });
      ids.push(id);
    }
    const context = await browser.newContext({ viewport: { width: 1400, height: 900 } });
    await signIn(context, rig.as('editor'));
    const page = await context.newPage();
    await page.goto(`${rig.url}/films/${rig.film}/sweep/${ids[0]}`);
    await page.evaluate(() => performance.setResourceTimingBufferSize(100_000));
    const times: number[] = [];
    for (let n = 1; n < CLIPS; n++) {
      // A person looks at a clip for a moment: until the next one's first second has come.
      await page.waitForFunction((id) => performance.getEntriesByType('resource').some(({ name }) => name.includes(`/${id}/`) && name.endsWith('picture_00000.m4s')), ids[n]!);
      times.push(
        await page.evaluate(
          () =>
            new Promise<number>((resolve) => {
              const before = document.querySelector('.picture video');
              const from = performance.now();
              const look = () => {
                const video = document.querySelector<HTMLVideoElement>('.picture video');
                if (video && video !== before) video.requestVideoFrameCallback(() => resolve(performance.now() - from));
                else requestAnimationFrame(look);
              };
              window.dispatchEvent(new KeyboardEvent('keydown', { key: 'PageDown', code: 'PageDown', bubbles: true }));
              look();
            }),
        ),
      );
    }
    const value = times.toSorted((a, b) => a - b)[Math.ceil(times.length * 0.95) - 1]!;
    return [{ figure: 'from "next" to the first frame of the next clip, p95', value: Math.round(value), unit: 'ms', bar: NEXT_BAR_MS, ok: value <= NEXT_BAR_MS }];
  } finally {
    await browser.close();
    await rig.close();
    await rm(dir, { recursive: true, force: true });
  }
}
