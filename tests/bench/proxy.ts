// The whole job of a proxy against a plain encode with the same settings: what probing, stills, peaks, the check, the
// queue and the database cost together. And how soon a long clip plays in a browser that waits for it.
import { execFile } from 'node:child_process';
import { mkdir, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import postgres from 'postgres';
import type { FilmEvent } from '../../server/live/contract.ts';
import { EVENT_CHANNEL } from '../../server/platform/write.ts';
import { startProxyWorker } from '../../server/proxies/index.ts';
import { startChromium } from '../fixtures/chromium.ts';
import { makeSource, receive } from '../fixtures/clips.ts';
import { signIn } from '../fixtures/sign-in.ts';
import { startRig } from '../fixtures/rig.ts';
import type { Figure } from './run.ts';

const run = promisify(execFile);
const MINUTES = 5;
const PIECE_SECONDS = 20;
const JOB_BAR = 1.25;
const START_BAR = 0.1;

/** Picture and sound of a proxy in one plain ffmpeg, nothing else: the settings of server/proxies/encode.ts at 25. */
const plainArgs = (source: string, out: string): string[] => [
  ...['-v', 'error', '-y', '-i', source, '-map', '0:v:0', '-map', '0:a:0'],
  ...['-vf', 'fps=25:round=near,scale=960:540,setsar=1,format=yuv420p', '-c:v', 'libx264', '-preset', 'veryfast', '-tune', 'fastdecode', '-crf', '23'],
  ...['-maxrate', '4M', '-bufsize', '8M', '-bf', '0', '-g', '25', '-keyint_min', '25', '-sc_threshold', '0', '-c:a', 'aac', '-b:a', '128k', '-ac', '2', '-ar', '48000'],
  ...['-f', 'hls', '-hls_time', '2', '-hls_segment_type', 'fmp4', '-hls_playlist_type', 'event', join(out, 'plain.m3u8')],
];

export default async function proxyBench(): Promise<Figure[]> {
  const rig = await startRig();
  const dir = await mkdtemp(join(tmpdir(), 'rushlight-bench-'));
  const sql = postgres(rig.ground.databaseUrl, { max: 1, onnotice: () => {} });
  const browser = await startChromium();
  try {
    const piece = await makeSource(join(dir, 'piece.mov'), { seconds: PIECE_SECONDS, size: '1920x1080' });
    const source = join(dir, 'source.mov');
    await run('ffmpeg', ['-v', 'error', '-stream_loop', String((MINUTES * 60) / PIECE_SECONDS - 1), '-i', piece, '-c', 'copy', source]);

    const plain = async (name: string): Promise<number> => {
      const out = join(dir, name);
      await mkdir(out);
      const from = performance.now();
      await run('ffmpeg', plainArgs(source, out));
      return performance.now() - from;
    };
    // One before and one after, because the machine is not equally busy all the time.
    const before = await plain('before');
    const { plays, whole } = await job();
    const after = await plain('after');
    const ratio = whole / ((before + after) / 2);
    return [
      { figure: 'proxy job / plain encode', value: round(ratio), unit: 'times the time', bar: JOB_BAR, ok: ratio <= JOB_BAR },
      { figure: `until a ${MINUTES}-minute clip plays in a browser / its whole job`, value: round(plays / whole), unit: 'of the time', bar: START_BAR, ok: plays / whole <= START_BAR },
    ];

    async function job(): Promise<{ plays: number; whole: number }> {
      const ready = new Promise<number>((resolve, reject) => {
        void sql.listen(EVENT_CHANNEL, (text) => {
          const { kind } = JSON.parse(text) as FilmEvent;
          if (kind === 'clip.ready') resolve(performance.now());
          if (kind === 'clip.failed') reject(new Error(`The proxy failed: ${text}`));
        });
      });
      const copy = join(dir, 'copy.mov');
      await run('cp', [source, copy]);
      // The page is there before the clip is, as it is for somebody who waits for the field.
      const context = await browser.newContext();
      await signIn(context, rig.as('editor'));
      const page = await context.newPage();
      await page.goto(`${rig.url}/films/${rig.film}/footage`);
      await page.getByRole('heading', { name: 'Footage' }).waitFor();
      const worker = await startProxyWorker(rig.ground);
      const from = performance.now();
      const { id } = await receive(rig.ground, rig.film, copy);
      await page.goto(`${rig.url}/films/${rig.film}/sweep/${id}`);
      await page.waitForFunction(() => (document.querySelector('video')?.readyState ?? 0) >= HTMLMediaElement.HAVE_CURRENT_DATA, null, { polling: 'raf', timeout: 0 });
      await page.keyboard.press('l');
      await page.waitForFunction(() => (document.querySelector('video')?.currentTime ?? 0) > 0.1, null, { polling: 'raf', timeout: 0 });
      const plays = performance.now() - from;
      await context.close();
      const whole = (await ready) - from;
      await worker.stop();
      return { plays, whole };
    }
  } finally {
    await browser.close();
    await sql.end();
    await rig.close();
    await rm(dir, { recursive: true, force: true });
  }
}

const round = (value: number): number => Math.round(value * 1000) / 1000;
