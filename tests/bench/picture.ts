// What is found in footage that was spoiled on purpose, and what finding it costs. Each clip is spoiled in one way for a
// stretch that is known; precision and recall are of time, in steps. Steps within a quarter of a second of where the
// stretch begins or ends are not counted: a trace speaks of half a second.
// Footage: scenes of the project's own, and, where Debian's package opencv-doc is installed (its samples, Apache-2.0; put
// FOOTAGE_DIR where it was unpacked elsewhere), clips of real cameras out of it.
import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { faultsOf, type FaultKind } from '#core/faults.ts';
import { contains } from '#core/range.ts';
import { rate, type Rate } from '#core/rate.ts';
import type { Traces } from '#core/traces.ts';
import { findTools, type Tools } from '../../server/platform/ffmpeg.ts';
import { TRACES_FILE } from '../../server/proxies/analysis/index.ts';
import { encodeProxy } from '../../server/proxies/encode.ts';
import { probe } from '../../server/proxies/probe.ts';
import { makeSource } from '../fixtures/clips.ts';
import { makeClip, type Scene } from '../fixtures/footage.ts';
import { SPOIL, spoil } from '../fixtures/spoil.ts';
import type { Figure } from './run.ts';

const run = promisify(execFile);
const ACCURACY_BAR = 0.9;
const COST_BAR = 1.3;
const COST_SECONDS = 60;
const COST_ROUNDS = 3;
const COLLAR_SECONDS = 0.25;
const SECONDS = 8;
const [FROM, TO] = [3, 6];

interface Way {
  fault: FaultKind;
  picture?: string[];
  sound?: string[];
  /** What it is as well: white flashes are blown. */
  also?: FaultKind[];
}

const PICTURE_WAYS: Way[] = [
  { fault: 'soft', picture: [SPOIL.soft(FROM, TO, 3)] },
  { fault: 'soft', picture: [SPOIL.soft(FROM, TO, 6)] },
  { fault: 'shaky', picture: [SPOIL.shaky(FROM, TO)] },
  { fault: 'shaky', picture: [SPOIL.shaky(FROM, TO, 0.5)] },
  { fault: 'blown', picture: [SPOIL.blown(FROM, TO)] },
  { fault: 'blown', picture: [SPOIL.overexposed(FROM, TO, 3)] },
  { fault: 'dark', picture: [SPOIL.overexposed(FROM, TO, 0.25)] },
  { fault: 'black', picture: [SPOIL.black(FROM, TO)] },
  { fault: 'frozen', picture: [SPOIL.frozen(FROM, TO), `trim=end_frame=${25 * SECONDS}`] },
  { fault: 'flashing', picture: [SPOIL.flashing(FROM, TO)], also: ['blown', 'black', 'dark', 'soft'] },
];
const SOUND_WAYS: Way[] = [
  { fault: 'clipped', sound: [SPOIL.clipped(FROM, TO)] },
  { fault: 'silent', sound: [SPOIL.silent(FROM, TO)] },
  { fault: 'rumble', sound: [SPOIL.rumble(FROM, TO)] },
];

/** What these begin and end with is as good as a new picture, so a cut found there is neither right nor wrong. */
const NEW_PICTURES: FaultKind[] = ['blown', 'dark', 'black', 'frozen', 'flashing'];

interface Footage {
  file: string;
  /** Faults that it has by itself. */
  has: FaultKind[];
  sound: boolean;
  /** Of the night: no more light makes it blown. */
  night?: boolean;
}

export default async function pictureBench(): Promise<Figure[]> {
  const dir = await mkdtemp(join(tmpdir(), 'rushlight-picture-'));
  const tools = await findTools(null);
  try {
    const footage = [...(await ownScenes(dir, tools)), ...(await realFootage(dir))];
    const cuts = { right: 0, wrong: 0, missed: 0 };
    const tallies = new Map<FaultKind, { right: number; wrong: number; missed: number }>();
    const tally = (kind: FaultKind) => tallies.get(kind) ?? tallies.set(kind, { right: 0, wrong: 0, missed: 0 }).get(kind)!;
    for (const { file, has, sound, night = false } of footage)
      for (const way of [...PICTURE_WAYS, ...(sound ? SOUND_WAYS : [])]) {
        if (night && way.fault === 'blown') continue;
        const spoiled = join(dir, 'spoiled.mov');
        await spoil(tools.ffmpeg, file, spoiled, way);
        const { traces, clock } = await measured(spoiled, dir, tools);
        count(traces, clock, way, has, tally);
        if (!NEW_PICTURES.includes(way.fault)) cuts.wrong += traces.cuts.length;
      }
    await countCuts(footage, dir, tools, cuts);
    const figures = [...tallies, ['cuts', cuts] as const].flatMap(([kind, { right, wrong, missed }]): Figure[] =>
      (right + missed === 0 ? [] : [['precision', right / (right + wrong)], ['recall', right / (right + missed)]] as const).map(([what, value]) => ({
        figure: `${kind}: ${what}`,
        value: round(value),
        unit: kind === 'cuts' ? 'of the cuts, to the frame' : `of the time, in ${footage.length} clips`,
        bar: ACCURACY_BAR,
        ok: value >= ACCURACY_BAR,
      })),
    );
    return [...figures, await cost(dir, tools)];
  } finally {
    await rm(dir, { recursive: true, force: true });
  }
}

async function ownScenes(dir: string, tools: Tools): Promise<Footage[]> {
  const scenes: [Scene, number][] = [['low-water', 0], ['causeway', 6], ['oyster-beds', 6], ['market-night', 4], ['ferry', 4]];
  const made: Footage[] = [];
  for (const [scene, sway] of scenes) {
    const file = join(dir, `${scene}.mov`);
    await makeClip({ name: scene, scene, rate: rate(25), frames: 25 * SECONDS, width: 960, height: 540, sway }, file, tools);
    made.push({ file, has: [], sound: true, night: scene === 'market-night' });
  }
  return made;
}

/** Brought to 25 frames a second, for the stretches are counted so. */
async function realFootage(dir: string): Promise<Footage[]> {
  const base = process.env['FOOTAGE_DIR'] ?? '/usr/share/doc/opencv-doc';
  const clips: { path: string; name: string; has: FaultKind[] }[] = [
    { path: 'examples/data/vtest.avi', name: 'street', has: ['frozen'] }, // Ten frames a second, so most are repeated.
    { path: 'opencv4/html/box.mp4.gz', name: 'box', has: [] },
    { path: 'opencv4/html/cup.mp4.gz', name: 'cup', has: ['shaky'] }, // In the hand, going round a cup.
  ];
  const found: Footage[] = [];
  for (const { path, name, has } of clips) {
    const from = join(base, path);
    if (!existsSync(from)) continue;
    const file = join(dir, `${name}.mov`);
    const plain = join(dir, name);
    await run('sh', ['-c', path.endsWith('.gz') ? 'gzip -dc "$1" > "$2"' : 'cp "$1" "$2"', 'sh', from, plain]);
    await run('ffmpeg', ['-v', 'error', '-y', '-i', plain, '-an', '-vf', 'fps=25', '-t', String(SECONDS), '-c:v', 'libx264', '-preset', 'ultrafast', '-crf', '16', '-pix_fmt', 'yuv420p', file]);
    found.push({ file, has, sound: false });
  }
  return found;
}

async function measured(file: string, dir: string, tools: Tools): Promise<{ traces: Traces; clock: Rate }> {
  const out = join(dir, 'proxy');
  await rm(out, { recursive: true, force: true });
  const found = await probe(file, tools);
  await encodeProxy({ source: file, probe: found, outDir: out, tools });
  return { traces: JSON.parse(await readFile(join(out, TRACES_FILE), 'utf8')) as Traces, clock: found.rate };
}

function count(traces: Traces, clock: Rate, way: Way, has: readonly FaultKind[], tally: (kind: FaultKind) => { right: number; wrong: number; missed: number }): void {
  const faults = faultsOf(traces, clock);
  const seconds = (frame: number) => (frame * clock.den) / clock.num;
  for (let frame = 0; frame < traces.frames; frame += traces.framesPerStep) {
    const middle = seconds(frame + traces.framesPerStep / 2);
    if (Math.min(Math.abs(middle - FROM), Math.abs(middle - TO)) < COLLAR_SECONDS) continue;
    const inside = middle > FROM && middle < TO;
    const here = new Set(faults.filter((fault) => contains(fault, frame)).map(({ kind }) => kind));
    if (inside && !has.includes(way.fault) && !here.has(way.fault)) tally(way.fault).missed++;
    for (const kind of here) {
      if (has.includes(kind) || (inside && way.also?.includes(kind))) continue;
      if (inside && kind === way.fault) tally(kind).right++;
      else tally(kind).wrong++;
    }
  }
}

/** Each clip cut to the next after two seconds. */
async function countCuts(footage: readonly Footage[], dir: string, tools: Tools, tally: { right: number; wrong: number; missed: number }): Promise<void> {
  for (const [n, { file }] of footage.entries()) {
    const next = footage[(n + 1) % footage.length]!.file;
    const joined = join(dir, 'joined.mov');
    const part = (input: number) => `[${input}:v]trim=end_frame=50,scale=640:360,setsar=1,setpts=N/25/TB[p${input}]`;
    const args = ['-filter_complex', `${part(0)};${part(1)};[p0][p1]concat=n=2:v=1[v]`, '-map', '[v]', '-c:v', 'libx264', '-preset', 'ultrafast', '-pix_fmt', 'yuv420p'];
    await run(tools.ffmpeg, ['-v', 'error', '-y', '-i', file, '-i', next, ...args, joined]);
    const { traces } = await measured(joined, dir, tools);
    const right = traces.cuts.filter((cut) => cut === 50).length;
    tally.right += right;
    tally.missed += 1 - right;
    tally.wrong += traces.cuts.length - right;
  }
}

/** The whole of probing, encoding and checking, with the traces and without, turn and turn about. */
async function cost(dir: string, tools: Tools): Promise<Figure> {
  const source = await makeSource(join(dir, 'source.mov'), { seconds: COST_SECONDS, size: '1920x1080' });
  const job = async (traces: boolean): Promise<number> => {
    const out = join(dir, 'cost');
    await rm(out, { recursive: true, force: true });
    const from = performance.now();
    await encodeProxy({ source, probe: await probe(source, tools), outDir: out, tools, traces });
    return performance.now() - from;
  };
  const times = { with: 0, without: 0 };
  for (let n = 0; n < COST_ROUNDS; n++) {
    times.without += await job(false);
    times.with += await job(true);
  }
  const ratio = times.with / times.without;
  return { figure: 'proxy with traces / without', value: round(ratio), unit: 'times the time', bar: COST_BAR, ok: ratio <= COST_BAR };
}

const round = (value: number): number => Math.round(value * 1000) / 1000;
