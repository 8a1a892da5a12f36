// `npm run pictures`: the README's pictures, taken of the real screens on the invented film.
import { spawn } from 'node:child_process';
import { chmodSync, mkdtempSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as later } from 'node:timers/promises';
import type { Clip } from '../../server/footage/contract.ts';
import type { ClipsWhole, Snapshot } from '../../server/live/contract.ts';
import { startChromium } from '../fixtures/chromium.ts';

const PORT = '4619';
const ORIGIN = `http://127.0.0.1:${PORT}`;
const MADE_WITHIN_MS = 15 * 60_000;

const dir = mkdtempSync(join(tmpdir(), 'rushlight-pictures-'));
// Where root starts the server, Postgres runs as another user, who has to get in.
chmodSync(dir, 0o755);
const server = spawn('node', ['server/main.ts', '--demo'], { env: { ...process.env, DATA_DIR: join(dir, 'data'), PORT, LOG_LEVEL: 'warn' }, stdio: 'inherit' });
const browser = await startChromium();
try {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
  const account = { name: 'Keeper', email: 'keeper@example.test', password: 'only for the pictures' };
  const until = Date.now() + MADE_WITHIN_MS;
  while (!(await context.request.get(`${ORIGIN}/api/welcome`).then((answer) => answer.ok(), () => false))) await later(500);
  await context.request.post(`${ORIGIN}/api/first-account`, { data: account });
  const [{ film }] = (await (await context.request.get(`${ORIGIN}/api/films`)).json()) as [{ film: { id: string } }];
  const get = async <T>(path: string) => (await (await context.request.get(`${ORIGIN}/api/films/${film.id}${path}`)).json()) as T;
  const made = async () => {
    const clips = await get<Clip[]>('/clips');
    const whole = clips.length ? await get<ClipsWhole>(`/state/clips?${clips.map(({ id }) => `id=${id}`).join('&')}`) : null;
    const { rows } = await get<Snapshot>('/state');
    return { clips, rows, whole: clips.length >= 28 && clips.every((clip) => clip.state === 'ready') && (whole?.rows.selects.length ?? 0) >= 23 && rows.ties.length >= 4 };
  };
  let { clips, rows, whole } = await made();
  while (!whole) {
    if (Date.now() > until) throw new Error('The invented film was not made in time.');
    await later(2000);
    ({ clips, rows, whole } = await made());
  }
  const clip = clips.find(({ name }) => name === 'D001C001.mp4')!;
  const slot = rows.items.find(({ name }) => name === 'Mud and sky')!;
  const page = await context.newPage();
  const go = async (path: string): Promise<void> => {
    await page.goto(`${ORIGIN}/films/${film.id}/${path}`, { waitUntil: 'networkidle' });
    await page.evaluate(() => document.fonts.ready);
  };
  const take = (name: string) => page.screenshot({ path: join(import.meta.dirname, 'pictures', `${name}.png`) });
  // The film is fitted to its track as a person would do it, and is so on all other pictures.
  await go('outline');
  await page.getByRole('button', { name: 'Fit to the music' }).click();
  await page.getByText(/^\d+ of \d+ changes land on marks/).waitFor();
  await page.waitForLoadState('networkidle');
  await take('fit');
  await page.getByRole('button', { name: 'Adopt these lengths' }).click();
  await page.getByText('Its lengths are fitted to the music.').waitFor();
  const rooms = { outline: 'outline', footage: 'footage', sweep: `sweep/${clip.id}?frame=198`, picks: `picks/${slot.id}`, 'string-out': 'string-out?frame=60', music: 'music', ledger: 'ledger', turnover: 'turnover' };
  for (const [name, path] of Object.entries(rooms)) {
    await go(path);
    // The film is put together when it is asked for first.
    if (name === 'string-out') await page.getByRole('region', { name: 'Ribbon' }).waitFor({ timeout: 5 * 60_000 });
    await take(name);
  }
} finally {
  await browser.close();
  const ended = new Promise((done) => server.once('exit', done));
  server.kill('SIGTERM');
  await ended;
  await rm(dir, { recursive: true, force: true });
}
