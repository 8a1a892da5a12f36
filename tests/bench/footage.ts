// The Footage room with 10,000 clips, 30,000 selects and 100,000 notes, beside a film of a tenth of that.
import type { Page } from 'playwright-core';
import { tableOf, windowOf } from '../../server/footage/table.ts';
import type { FootageFilter } from '../../server/footage/contract.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { signIn } from '../fixtures/sign-in.ts';
import type { Figure } from './run.ts';

const [MANY, FEW] = [10_000, 1000];
const CAMERAS = ['A', 'B', 'C', 'D', 'Phone'];
/** Clips of a day, whichever film: a small one has fewer days, not emptier ones. */
const A_DAY = 500;
const ASKED = 200;
const QUERY_BAR = 1.5;
/** Flat, but for what a collector leaves. */
const MEMORY_BAR = 1.1;

export default async function footageBench(): Promise<Figure[]> {
  const rig = await startRig();
  const browser = await startChromium();
  try {
    const { rateNum, rateDen, targetFrames } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    const small = (await rig.db.film.create({ data: { title: 'A tenth', rateNum, rateDen, targetFrames } })).id;
    await fill(rig, rig.film, MANY);
    await fill(rig, small, FEW);
    await rig.db.$executeRaw`ANALYZE`;
    const figures: Figure[] = [];
    const ratio = async (figure: string, ask: (film: string, n: number) => Promise<unknown>, bar: number | null): Promise<void> => {
      const times: Record<string, number[]> = { [rig.film]: [], [small]: [] };
      for (let n = 0; n < ASKED; n++) {
        for (const film of [rig.film, small]) {
          const from = performance.now();
          await ask(film, n);
          if (n >= ASKED / 10) times[film]!.push(performance.now() - from);
        }
      }
      const value = p95(times[rig.film]!) / p95(times[small]!);
      figures.push({ figure: `${figure}, ${MANY} clips / ${FEW}, p95`, value: round(value), unit: 'times the time', bar, ok: bar === null ? null : value <= bar });
      figures.push({ figure: `${figure}, ${MANY} clips, p95`, value: round(p95(times[rig.film]!)), unit: 'ms', bar: null, ok: null });
    };
    const user = rig.as('editor').userId;
    const random = randomFrom(20261126);
    const cell = (clips: number): FootageFilter => ({ day: dayOf(Math.floor((random() * clips) / A_DAY)), camera: oneOf(random, CAMERAS) });
    await ratio('a window of 60 clips anywhere in a cell', async (film) => windowOf(rig.db, film, user, cell(film === small ? FEW : MANY), { offset: Math.floor(random() * 40), limit: 60 }), QUERY_BAR);
    await ratio('a window of clips with a word that a few have', async (film, n) => windowOf(rig.db, film, user, { words: `w${n % 97}` }, { offset: 0, limit: 60 }), null);
    await ratio('the counts of the whole table', async (film) => tableOf(rig.db, film, {}), null);

    const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
    await signIn(context, rig.as('editor'));
    const page = await context.newPage();
    const from = performance.now();
    await page.goto(`${rig.url}/films/${rig.film}/footage`);
    await page.locator('[data-clip]').first().waitFor();
    figures.push({ figure: `until the first clip of ${MANY} is there`, value: round(performance.now() - from), unit: 'ms', bar: null, ok: null });
    const atFirst = await memory(page);
    const gaps = await scrollThrough(page);
    const before = await memory(page);
    await page.evaluate(() => scrollTo(0, 0));
    await scrollThrough(page);
    const grown = (await memory(page)) / before;
    figures.push({ figure: 'scrolling through all, time until what is in sight is there, p95', value: round(p95(gaps)), unit: 'ms', bar: null, ok: null });
    figures.push({ figure: 'memory of the page after scrolling through all / before, with as many windows kept as are kept at all', value: round(before / atFirst), unit: 'times', bar: null, ok: null });
    figures.push({ figure: 'memory of the page after scrolling through all twice / once', value: round(grown), unit: 'times', bar: MEMORY_BAR, ok: grown <= MEMORY_BAR });
    const asked: number[] = [];
    for (let n = 0; n < 20; n++) {
      const begin = performance.now();
      await page.getByRole('search').getByLabel('Camera').selectOption({ index: 1 + (n % CAMERAS.length) });
      await page.getByText(/ of 10000 clips/).waitFor();
      await page.locator('[data-clip]').first().waitFor();
      asked.push(performance.now() - begin);
    }
    figures.push({ figure: 'asking for another camera, until its clips are there, p95', value: round(p95(asked)), unit: 'ms', bar: null, ok: null });
    return figures;
  } finally {
    await browser.close();
    await rig.close();
  }
}

const dayOf = (n: number): string => new Date(Date.UTC(2026, 4, 1 + n)).toISOString().slice(0, 10);

/** Clips of five cameras, a day full after the other, with three selects and ten notes each. */
async function fill(rig: Rig, film: string, clips: number): Promise<void> {
  const by = rig.as('editor').userId;
  await rig.db.$executeRaw`
    INSERT INTO clip (id, film_id, name, original_path, bytes, xxh64, uploaded_by_id, state, camera, shoot_day, captured_at, rate_num, rate_den, frames, proxy_version)
    SELECT ${film} || '-' || n, ${film}, (${CAMERAS}::text[])[1 + n % 5] || '_' || n || '.mov', 'bench/' || n, 1000, lpad(to_hex(n), 16, '0'), ${by}, 'ready', (${CAMERAS}::text[])[1 + n % 5],
      DATE '2026-05-01' + n / ${A_DAY}::int, TIMESTAMPTZ '2026-05-01T06:00:00Z' + (n / ${A_DAY}::int) * INTERVAL '1 day' + (n % ${A_DAY}::int) * INTERVAL '30 seconds', 25, 1, 250 + n % 1000, 'bench'
    FROM generate_series(0, ${clips}::int - 1) n`;
  await rig.db.$executeRaw`
    INSERT INTO "select" (id, film_id, clip_id, "in", out_exclusive, label, made_by_id)
    SELECT gen_random_uuid()::text, ${film}, ${film} || '-' || (n / 3), 10 * (n % 3), 10 * (n % 3) + 8, 'w' || n % 97, ${by} FROM generate_series(0, 3 * ${clips}::int - 1) n`;
  await rig.db.$executeRaw`
    INSERT INTO note (id, film_id, clip_id, "in", out_exclusive, text, addressed, author_id)
    SELECT gen_random_uuid()::text, ${film}, ${film} || '-' || (n / 10), n % 200, n % 200 + 1, 'Note v' || n % 997, '{}', ${by} FROM generate_series(0, 10 * ${clips}::int - 1) n`;
  await rig.db.$executeRaw`INSERT INTO seen (clip_id, user_id, ranges) SELECT id, ${by}, int4multirange(int4range(0, frames / 2)) FROM clip WHERE film_id = ${film} AND bytes = 1000 AND length(id) % 2 = 0`;
}

/** Scrolls by whole screens from top to bottom; of each, how long until every clip in sight was there. */
async function scrollThrough(page: Page): Promise<number[]> {
  const gaps: number[] = [];
  for (;;) {
    const begin = performance.now();
    const ended = await page.evaluate(() => {
      const before = scrollY;
      scrollBy(0, innerHeight);
      return scrollY === before;
    });
    if (ended) return gaps;
    await page.waitForFunction(() => {
      const boxes = [...document.querySelectorAll('.table li')].filter((li) => {
        const { top, bottom } = li.getBoundingClientRect();
        return bottom > 0 && top < innerHeight;
      });
      return boxes.every((li) => li.querySelector('[data-clip]'));
    }, null, { polling: 'raf' });
    gaps.push(performance.now() - begin);
  }
}

async function memory(page: Page): Promise<number> {
  const session = await page.context().newCDPSession(page);
  await session.send('HeapProfiler.collectGarbage');
  const { usedSize } = await session.send('Runtime.getHeapUsage');
  await session.detach();
  return usedSize;
}

const p95 = (times: number[]): number => times.toSorted((a, b) => a - b)[Math.ceil(times.length * 0.95) - 1]!;
const round = (value: number): number => Math.round(value * 100) / 100;
