// From a slot's change until the string-out of five minutes plays it, against encoding the whole anew.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { runFfmpeg } from '../../server/platform/ffmpeg.ts';
import { makeProxy } from '../../server/proxies/make.ts';
import { makeStringOut } from '../../server/stringout/worker.ts';
import { makeSource, receive } from '../fixtures/clips.ts';
import { startRig } from '../fixtures/rig.ts';
import { addItem } from '../fixtures/slots.ts';
import type { Figure } from './run.ts';

const SHOTS = 60;
const SHOT_FRAMES = 120;
const BAR = 0.05;

export default async function stringOutBench(): Promise<Figure[]> {
  const rig = await startRig();
  const dir = await mkdtemp(join(tmpdir(), 'rushlight-bench-'));
  const signal = new AbortController().signal;
  try {
    const source = await makeSource(join(dir, 'A001C001.mov'), { seconds: 20, rate: '24000/1001', size: '1920x1080' });
    const { id: clipId, originalPath } = await receive(rig.ground, rig.film, source, { camera: 'A' });
    const original = rig.ground.storage.path('originals', originalPath);
    await makeProxy(rig.ground, clipId, { signal, lastTry: true });
    const part = await addItem(rig, 'part', 'All of it');
    const offers: string[] = [];
    for (let n = 0; n < SHOTS; n++) {
      const slot = await addItem(rig, 'slot', `Shot ${n}`, part.id);
      const select = (await rig.as('editor').post(rig.at('/selects'), { clipId, in: n, outExclusive: n + SHOT_FRAMES })).body;
      offers.push((await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body.id);
    }
    await makeStringOut(rig.ground, rig.film, signal);

    await writeFile(join(dir, 'list.txt'), Array.from({ length: SHOTS }, (_, n) => `file '${original}'\ninpoint ${n / 24}\noutpoint ${(n + SHOT_FRAMES) / 24}\n`).join(''));
    const begun = performance.now();
    await runFfmpeg({ program: rig.ground.tools.ffmpeg, args: ['-v', 'error', '-y', '-f', 'concat', '-safe', '0', '-i', join(dir, 'list.txt'), '-vf', 'scale=960:540', '-c:v', 'libx264', '-preset', 'veryfast', '-crf', '23', '-c:a', 'aac', join(dir, 'whole.mp4')] });
    const whole = performance.now() - begun;

    const times: number[] = [];
    for (let n = 0; n < 5; n++) {
      await rig.as('editor').patch(rig.at(`/offers/${offers[10 * n]}`), { in: 200, outExclusive: 200 + SHOT_FRAMES });
      const from = performance.now();
      await makeStringOut(rig.ground, rig.film, signal);
      times.push(performance.now() - from);
    }
    const value = Math.max(...times) / whole;
    return [{ figure: 'one slot of a five-minute string-out changed until it plays / the whole encoded anew, worst of 5', value: Math.round(value * 1000) / 1000, unit: 'times the time', bar: BAR, ok: value <= BAR }];
  } finally {
    await rig.close();
    await rm(dir, { recursive: true, force: true });
  }
}
