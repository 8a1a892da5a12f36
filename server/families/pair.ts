import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Clip as ClipRow } from '#prisma';
import type { Ground } from '../platform/http.ts';
import { Refusal } from '../platform/errors.ts';
import type { Alignment, Fraction } from './contract.ts';
import type { Exact } from '#core/exact.ts';
import { alignInWorker } from './in-worker.ts';
import { writeSound } from './sound-file.ts';
import { offsetByTimecode, type Timed } from './timecode.ts';

/** Sound says its offsets in microseconds. */
const MICRO = 1_000_000;

/** What the alignment needs to know of a clip; null while the clip is not measured. */
export function timedOf(row: ClipRow): Timed | null {
  const { camera, rateNum, rateDen, frames, startFrame, dropFrame, capturedAt } = row;
  if (rateNum === null || rateDen === null || frames === null) return null;
  return { camera, rate: { num: rateNum, den: rateDen }, frames, startFrame, dropFrame, capturedAt: capturedAt?.getTime() ?? null };
}

/** A fraction as it is sent. */
export const toFraction = ({ num, den }: Exact): Fraction => ({ num: Number(num), den: Number(den) });

/**
 * Says how two clips lie on one another, by their timecodes and by their sound, each by itself: a person chooses.
 * @throws Refusal `clip-not-ready` while one has no proxy.
 */
export async function alignPair(ground: Pick<Ground, 'storage' | 'tools'>, a: ClipRow, b: ClipRow, signal?: AbortSignal): Promise<Alignment> {
  const [timedA, timedB] = [timedOf(a), timedOf(b)];
  if (!timedA || !timedB || a.state !== 'ready' || b.state !== 'ready') throw new Refusal('clip-not-ready', 'Both clips need their proxies before they can be laid on one another.');
  const byTimecode = offsetByTimecode(timedA, timedB);
  const timecode = byTimecode && { offset: toFraction(byTimecode) };
  const sound = await inTurn(() => bySound(ground, a, b, signal));
  return { timecode, sound, differSeconds: timecode && sound.told ? sound.offset.num / sound.offset.den - timecode.offset.num / timecode.offset.den : null };
}

let before: Promise<unknown> = Promise.resolve();

/** One at a time in this process: each takes a core for as long as it lasts. */
function inTurn<T>(work: () => Promise<T>): Promise<T> {
  const turn = before.then(work, work);
  before = turn.catch(() => {});
  return turn;
}

async function bySound({ storage, tools }: Pick<Ground, 'storage' | 'tools'>, a: ClipRow, b: ClipRow, signal?: AbortSignal): Promise<Alignment['sound']> {
  if (a.audioChannels === 0 || b.audioChannels === 0) return { told: false, why: 'no-sound' };
  const folder = await mkdtemp(join(tmpdir(), 'rushlight-sound-'));
  try {
    const files = { a: join(folder, 'a.raw'), b: join(folder, 'b.raw') };
    for (const [clip, file] of [[a, files.a], [b, files.b]] as const) await writeSound(tools.ffmpeg, storage.path('proxies', `${clip.id}/${clip.proxyVersion}/sound.m3u8`), file, signal);
    const found = await alignInWorker(files, signal);
    return found.told ? { told: true, offset: { num: Math.round(found.seconds * MICRO), den: MICRO }, driftPpm: found.driftPpm, confidence: found.confidence } : found;
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}
