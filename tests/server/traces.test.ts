// The traces of a real proxy beside what was done to the clip, and beside ffmpeg's own detectors on the same file.
import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { faultsOf, type Fault, type FaultKind } from '#core/faults.ts';
import { rate } from '#core/rate.ts';
import type { Traces } from '#core/traces.ts';
import { findTools, type Tools } from '../../server/platform/ffmpeg.ts';
import { TRACES_FILE } from '../../server/proxies/analysis/index.ts';
import { encodeProxy } from '../../server/proxies/encode.ts';
import { probe } from '../../server/proxies/probe.ts';
import { blackIn, freezeIn, loudnessIn, silenceIn } from '../fixtures/detectors.ts';
import { makeClip } from '../fixtures/footage.ts';
import { SPOIL, spoil } from '../fixtures/spoil.ts';

const FPS = 25;
const SECONDS = 16;
/** A step, and what a codec smears over its neighbours. */
const NEAR = 0.25;

let dir: string;
let tools: Tools;
let file: string;
let traces: Traces;
let faults: Fault[];
beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'traces-'));
  tools = await findTools(process.env['FFMPEG_PATH'] ?? null);
  const clean = join(dir, 'clean.mov');
  await makeClip({ name: 'A003C001', scene: 'ferry', rate: rate(FPS), frames: FPS * SECONDS, sway: 4 }, clean, tools);
  file = join(dir, 'faulty.mov');
  // Freezing comes first: it makes all that follows later, and cuts the end off.
  const picture = [SPOIL.frozen(7, 9.6), `trim=end_frame=${FPS * SECONDS}`, SPOIL.soft(1, 3), SPOIL.black(4, 6), SPOIL.blown(11, 13)];
  await spoil(tools.ffmpeg, clean, file, { picture, sound: [SPOIL.silent(2, 5), SPOIL.clipped(8, 10)] });
  const out = join(dir, 'proxy');
  const measured = await probe(file, tools);
  const made = await encodeProxy({ source: file, probe: measured, outDir: out, tools });
  traces = JSON.parse(await readFile(join(out, TRACES_FILE), 'utf8')) as Traces;
  expect(traces.frames).toBe(made.frames);
  faults = faultsOf(traces, measured.rate);
});
afterAll(() => rm(dir, { recursive: true, force: true }));

const found = (kind: FaultKind) => faults.filter((fault) => fault.kind === kind).map((fault) => [fault.in / FPS, fault.outExclusive / FPS]);
/** As many stretches, each of the same place. */
function same(some: readonly (readonly number[])[], others: readonly (readonly number[])[]): void {
  expect([some, others].map((list) => list.length)).toEqual([others.length, others.length]);
  for (const [n, [from, to]] of others.entries()) {
    expect(Math.abs(some[n]![0]! - from!)).toBeLessThanOrEqual(NEAR);
    expect(Math.abs(some[n]![1]! - to!)).toBeLessThanOrEqual(NEAR);
  }
}

describe('the traces of a clip', () => {
  it('find what was done to it, where it was done, and nothing else', () => {
    const done: [FaultKind, number, number][] = [['soft', 1, 3], ['silent', 2, 5], ['black', 4, 6], ['frozen', 7, 9.6], ['clipped', 8, 10], ['blown', 11, 13]];
    expect(faults.map(({ kind }) => kind)).toEqual(done.map(([kind]) => kind));
    for (const [kind, from, to] of done) same(found(kind), [[from, to]]);
  });
  it('agree with blackdetect', async () => same(found('black'), await blackIn(tools.ffmpeg, file)));
  it('agree with freezedetect, where the picture is not black', async () => same(found('frozen'), (await freezeIn(tools.ffmpeg, file)).filter(([from]) => from > 6)));
  it('agree with silencedetect', async () => same(found('silent'), await silenceIn(tools.ffmpeg, file)));
  it('agree with ebur128 on momentary loudness, within 1 LU and a tenth of a second', async () => {
    const theirs = (await loudnessIn(tools.ffmpeg, file)).map(([end, level]) => ({ middle: end - 0.2, level }));
    expect(theirs.length).toBeGreaterThan(100);
    let compared = 0;
    for (const [step, level] of traces.sound!.loudness.entries()) {
      const middle = ((step + 0.5) * traces.framesPerStep) / FPS;
      const near = theirs.filter((one) => Math.abs(one.middle - middle) <= 0.1).map((one) => one.level);
      // Of silence it says nan.
      if (near.length === 0 || !near.every((one) => one > -70)) continue;
      compared++;
      expect(level).toBeGreaterThanOrEqual(Math.min(...near) - 1);
      expect(level).toBeLessThanOrEqual(Math.max(...near) + 1);
    }
    expect(compared).toBeGreaterThan(50);
  });
});

describe('sound that is not of two channels', () => {
  it('is found rumbling where it does, in one channel', async () => {
    const clean = join(dir, 'short.mov');
    await makeClip({ name: 'A003C002', scene: 'ferry', rate: rate(FPS), frames: FPS * 6, width: 640, height: 360 }, clean, tools);
    const mono = join(dir, 'mono.mov');
    await spoil(tools.ffmpeg, clean, mono, { sound: [SPOIL.rumble(2, 4)] });
    const measured = await probe(mono, tools);
    expect(measured.audio?.channels).toBe(1);
    const out = join(dir, 'mono');
    await encodeProxy({ source: mono, probe: measured, outDir: out, tools });
    const rumbles = faultsOf(JSON.parse(await readFile(join(out, TRACES_FILE), 'utf8')) as Traces, measured.rate).filter(({ kind }) => kind === 'rumble');
    same(rumbles.map((fault) => [fault.in / FPS, fault.outExclusive / FPS]), [[2, 4]]);
  });

  it('is as loud as ffmpeg says it is, in six', async () => {
    const six = join(dir, 'six.mov');
    const channels = [0, 1, 2, 3, 4, 5].map((to) => `c${to}=c0`).join('|');
    await promisify(execFile)(tools.ffmpeg, ['-v', 'error', '-y', '-i', join(dir, 'mono.mov'), '-af', `pan=6c|${channels}`, '-c:v', 'copy', '-c:a', 'pcm_s16le', six]);
    const measured = await probe(six, tools);
    expect(measured.audio?.channels).toBe(6);
    const out = join(dir, 'six');
    await encodeProxy({ source: six, probe: measured, outDir: out, tools });
    const { sound } = JSON.parse(await readFile(join(out, TRACES_FILE), 'utf8')) as Traces;
    const { stderr } = await promisify(execFile)(tools.ffmpeg, ['-hide_banner', '-i', six, '-map', '0:a', '-af', 'volumedetect', '-f', 'null', '-']);
    expect(Math.abs(Math.max(...sound!.peak) - Number(/max_volume: (\S+) dB/.exec(stderr)![1]))).toBeLessThanOrEqual(1);
  });
});
