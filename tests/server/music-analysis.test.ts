// The decode and the thread of the analysis on real files, and its loudness against ffmpeg's ebur128 filter on the same files.
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { analyse, analyseInWorker } from '../../server/music/analysis/index.ts';
import { WAVE_RATE } from '../../server/music/contract.ts';
import { decodeTrack, HEARD_FILE } from '../../server/music/decode.ts';
import { FfmpegFailed, findTools, runFfmpeg, type Tools } from '../../server/platform/ffmpeg.ts';
import { synthesized } from '../fixtures/music/synth.ts';
import { readWav, writeWav } from '../fixtures/music/wav.ts';

let dir: string;
let tools: Tools;
beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'rushlight-analysis-'));
  tools = await findTools(null);
});
afterAll(() => rm(dir, { recursive: true, force: true }));

/** A stereo file whose channels differ, 16 bit. */
async function file(id: string, seconds: number, rate = 44_100): Promise<string> {
  const path = join(dir, `${id}-${rate}.wav`);
  const { pcm } = synthesized(id);
  const bytes = Buffer.alloc(seconds * rate * 4);
  for (let i = 0; i < bytes.length / 4; i++) {
    bytes.writeInt16LE(Math.round(pcm[i]! * 32_767), i * 4);
    bytes.writeInt16LE(Math.round(pcm[Math.max(0, i - 300)]! * 12_000), i * 4 + 2);
  }
  await writeWav(path, bytes, rate);
  return path;
}

/** Decodes a file as a track is decoded. @returns the path of what is analysed. */
async function heard(path: string): Promise<string> {
  const folder = await mkdtemp(join(dir, 'track-'));
  await decodeTrack(path, folder, { tools, signal: new AbortController().signal, onFraction: () => {} });
  return join(folder, HEARD_FILE);
}

/** What ffmpeg's ebur128 reads. */
async function ebur128(path: string): Promise<{ integrated: number; range: number; peak: number }> {
  const said = await runFfmpeg({ program: tools.ffmpeg, args: ['-hide_banner', '-nostats', '-i', path, '-af', 'ebur128=peak=true:framelog=verbose', '-f', 'null', '-'] });
  const value = (pattern: RegExp): number => Number(pattern.exec(said.slice(said.lastIndexOf('Summary:')))![1]);
  return { integrated: value(/I:\s*(-?[\d.]+) LUFS/), range: value(/LRA:\s*(-?[\d.]+) LU/), peak: value(/Peak:\s*(-?[\d.]+) dBFS/) };
}

describe('loudness', () => {
  it.each(['rock-128', 'drones', 'break-110'])('of %s is what ffmpeg reads', async (id) => {
    const path = await file(id, 40);
    const { pcm, rate } = await readWav(path);
    const [{ loudness }, reference] = [analyse(pcm, rate), await ebur128(path)];
    // ebur128 prints one decimal.
    expect(Math.abs(loudness.integratedLufs! - reference.integrated)).toBeLessThanOrEqual(0.1);
    // Tech 3342 allows a meter 1 LU.
    expect(Math.abs(loudness.rangeLu! - reference.range)).toBeLessThanOrEqual(1);
    expect(Math.abs(loudness.truePeakDbtp! - reference.peak)).toBeLessThanOrEqual(0.2);
  });
});

describe('the thread', () => {
  it('finds in a file what is found in memory, and reports', async () => {
    // At the decode's own rate no sample is changed on the way.
    const path = await file('rock-128', 20, WAVE_RATE);
    const { pcm, rate } = await readWav(path);
    const told: number[] = [];
    const found = await analyseInWorker(await heard(path), { report: (fraction) => told.push(fraction) });
    expect(found).toEqual(analyse(pcm, rate));
    expect(found.beats.length).toBeGreaterThan(35);
    expect(told).toEqual(told.toSorted((a, b) => a - b));
    expect(told.at(-1)).toBe(1);
  });

  it.each(['flac', 'mp3', 'm4a', 'opus'])('hears the tempo of what %s holds', async (kind) => {
    const path = join(dir, `music.${kind}`);
    await runFfmpeg({ program: tools.ffmpeg, args: ['-v', 'error', '-y', '-i', await file('click-120', 12), path] });
    const { tempo } = await analyseInWorker(await heard(path));
    expect(tempo[0]!.bpm).toBeCloseTo(120, 0);
  });

  it('stops on its signal', async () => {
    const stop = new AbortController();
    const report = (fraction: number): void => {
      if (fraction > 0.2) stop.abort(new Error('enough'));
    };
    await expect(analyseInWorker(await heard(await file('rock-128', 40)), { report, signal: stop.signal })).rejects.toThrow('enough');
    await expect(analyseInWorker(join(dir, 'none.wav'), { signal: stop.signal })).rejects.toThrow('enough');
  });

  it('fails on a file that is not there, on one that is no sound, and on one cut in its head', async () => {
    await expect(analyseInWorker(join(dir, 'none.wav'))).rejects.toThrow('ENOENT');
    const text = join(dir, 'text.wav');
    await writeFile(text, 'No music here, but enough of it for a head.');
    await expect(analyseInWorker(text)).rejects.toThrow(RangeError);
    await writeFile(text, 'RIFF');
    await expect(analyseInWorker(text)).rejects.toThrow(RangeError);
  });
});

describe('the decode', () => {
  it('fails on what is no music, and on a list that names another file', async () => {
    const text = join(dir, 'words.wav');
    await writeFile(text, 'No music here.');
    await expect(heard(text)).rejects.toThrow(FfmpegFailed);
    const list = join(dir, 'list.wav');
    await writeFile(list, `ffconcat version 1.0\nfile '${await file('click-120', 12)}'\n`);
    await expect(heard(list)).rejects.toThrow(FfmpegFailed);
  });
});
