// How the player plays: order, shuttle, loops, ranges, proxies that grow, and a server that is away.
import { beforeAll, expect, it } from 'vitest';
import { right, SETUP_MS, withPlayer, wrong } from '../fixtures/player-frames.ts';
import type { Harness } from './page/player/main.ts';

declare const harness: Harness;

const stand = withPlayer();
beforeAll(async () => {
  for (const clip of ['pal-25.mov', 'drop-29.97.mov', 'silent.mp4'] as const) await stand.site.add(clip);
}, SETUP_MS);

it('reports frames in order while playing, none that the picture is not at', async () => {
  const clip = 'pal-25.mov';
  const page = await stand.site.open(stand.browser, clip);
  const seen = await page.evaluate(async () => {
    const { player, video, read } = harness;
    player.toggleSound();
    await player.seek(10);
    const list: { frame: number; picture: number | null }[] = [];
    await player.play();
    await new Promise<void>((resolve) => {
      const look = () => {
        list.push({ frame: player.frame, picture: read() });
        if (player.frame >= 60) resolve();
        else video.requestVideoFrameCallback(look);
      };
      video.requestVideoFrameCallback(look);
    });
    return list;
  });
  expect(seen.length).toBeGreaterThan(10);
  expect(seen.map(({ frame }) => frame)).toEqual([...seen.map(({ frame }) => frame)].sort((a, b) => a - b));
  // Both are taken in one callback; the picture may already be the next one (seen at high rates), never an earlier one.
  expect(seen.filter(({ frame, picture }) => picture === null || picture < frame || picture > frame + 1)).toEqual([]);
  await page.close();
});

it('counts the pictures that came on screen while the page was too busy to be told', async () => {
  const page = await stand.site.open(stand.browser, 'pal-25.mov');
  const told = await page.evaluate(async () => {
    const { player } = harness;
    player.toggleSound();
    await player.seek(10);
    const list: { frame: number; pictures: number }[] = [];
    await player.play();
    await new Promise<void>((resolve) =>
      player.listen((frame, pictures) => {
        list.push({ frame, pictures });
        const busyUntil = performance.now() + (list.length === 5 ? 600 : 0);
        while (performance.now() < busyUntil);
        if (frame >= 60) resolve();
      }),
    );
    return list;
  });
  const steps = told.slice(1).map(({ frame, pictures }, n) => ({ step: frame - told[n]!.frame, pictures }));
  // It was too busy for at least half a second, and the screen went on showing pictures.
  expect(Math.max(...steps.map(({ step }) => step))).toBeGreaterThan(10);
  expect(steps.filter(({ step, pictures }) => pictures > step + 1)).toEqual([]);
  expect(steps.filter(({ step, pictures }) => step > 10 && pictures < step / 2)).toEqual([]);
  await page.close();
});

it('shuttles: each press of the same way doubles up to 8, the other way begins at 1, stop holds the frame', async () => {
  const page = await stand.site.open(stand.browser, 'pal-25.mov');
  const speeds = await page.evaluate(async () => {
    const { player } = harness;
    player.toggleSound();
    await player.seek(140);
    const list: (number | boolean)[] = [];
    for (const way of [-1, -1, -1, -1, -1, 1, 1] as const) {
      void player.shuttle(way);
      await new Promise(requestAnimationFrame);
      while (!player.playing) await new Promise(requestAnimationFrame);
      list.push(player.speed);
    }
    list.push(harness.video.preservesPitch);
    await player.shuttle(0);
    list.push(player.playing);
    return list;
  });
  expect(speeds).toEqual([-1, -2, -4, -8, -8, 1, 2, true, false]);
  await page.close();
});

it.each(['pal-25.mov', 'silent.mp4'] as const)('plays a stretch of %s again and again, each time from its first frame to its last', async (clip) => {
  const page = await stand.site.open(stand.browser, clip);
  const turns = await page.evaluate(async () => {
    const { player } = harness;
    player.toggleSound();
    await player.seek(100);
    const list: number[][] = [];
    let last = Infinity;
    const done = new Promise<void>((resolve) =>
      player.listen((frame) => {
        if (frame < last) list.push([]);
        list.at(-1)!.push((last = frame));
        if (list.length === 5) resolve();
      }),
    );
    await player.playRange({ in: 40, outExclusive: 52 });
    await done;
    return list.slice(0, 4);
  });
  expect(turns.map((turn) => turn[0])).toEqual([40, 40, 40, 40]);
  expect(turns.filter((turn) => turn.at(-1)! < 51)).toEqual([]);
  await page.close();
});

it('keeps to a range: seeks are held inside it, and playing ends on its last frame', async () => {
  const page = await stand.site.open(stand.browser, 'pal-25.mov', { in: 60, outExclusive: 70 });
  expect(await wrong(page, 'pal-25.mov', [60, 69], 'seek')).toEqual([]);
  for (const [asked, held] of [[0, 60], [149, 69]] as const) {
    expect(right('pal-25.mov', held, await page.evaluate((frame) => harness.shown(harness.player.seek(frame)), asked))).toBe(true);
  }
  await page.evaluate(async () => {
    harness.player.toggleSound();
    await harness.player.seek(60);
    await harness.player.play();
  });
  await page.waitForFunction('!harness.player.playing');
  expect(right('pal-25.mov', 69, await page.evaluate(() => harness.shown(harness.player.pause())))).toBe(true);
  await page.close();
});

it('counts steps asked for faster than they can be shown', async () => {
  const page = await stand.site.open(stand.browser, 'drop-29.97.mov', { plain: 1 });
  const seen = await page.evaluate(async () => {
    await harness.player.seek(90);
    const steps = [-1, -1, -1, -1, 5, -1].map((by) => harness.player.step(by));
    return harness.shown(Promise.all(steps).then((all) => all.at(-1)!));
  });
  expect(right('drop-29.97.mov', 90, seen)).toBe(true);
  await page.close();
});

it('plays a proxy that is still being made as far as it is, and the rest when it is there', async () => {
  stand.site.grownTo(1);
  const page = await stand.site.open(stand.browser, 'pal-25.mov');
  expect(await page.evaluate(() => harness.player.available)).toBe(50);
  expect(right('pal-25.mov', 49, await page.evaluate(() => harness.shown(harness.player.seek(120))))).toBe(true);
  stand.site.grownTo(2);
  await page.waitForFunction('harness.player.available === 100');
  expect(await wrong(page, 'pal-25.mov', [99, 50, 49], 'seek')).toEqual([]);
  stand.site.grownTo(null);
  await page.waitForFunction('harness.player.available === 150');
  expect(await wrong(page, 'pal-25.mov', [149, 100, 99, 0], 'seek')).toEqual([]);
  await page.close();
});

it('says in words why there is no picture, where the server refuses it', async () => {
  stand.site.onAsked((path) => (path.endsWith('.m4s') ? 403 : undefined));
  const page = await stand.site.openUnready(stand.browser, 'pal-25.mov');
  await page.getByRole('alert').getByText('does not let you watch').waitFor();
  stand.site.onAsked(() => undefined);
  await page.close();
});

it('loads on after the server was away for a moment', async () => {
  let refusals = 0;
  stand.site.onAsked((path) => (/picture_0000[12]\.m4s$/.test(path) && refusals++ < 2 ? 503 : undefined));
  const page = await stand.site.open(stand.browser, 'pal-25.mov', { plain: 1 });
  expect(await wrong(page, 'pal-25.mov', [120, 70, 99], 'seek')).toEqual([]);
  expect(refusals).toBeGreaterThanOrEqual(2);
  expect(await page.evaluate(() => harness.player.failure)).toBeNull();
  stand.site.onAsked(() => undefined);
  await page.close();
});
