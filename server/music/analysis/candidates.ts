import { decode } from './decode.ts';
import { FRAME_RATE } from './features.ts';
import type { Scores } from './patterns.ts';

/**
 * Ranges of tempo that are searched one by one, in BPM. Each is about an octave, so that none can hide a level in another;
 * they overlap, so that a tempo near an edge is well within the next. The wide one follows changes that leave an octave.
 */
const RANGES = [
  [45, 90],
  [68, 140],
  [105, 210],
  [45, 210],
] as const;

/**
 * What the beats of a piece may be: the best path of each range, and each of these shifted by half a beat.
 * @param step called now and then with the share done, 0 to 1; throws to stop.
 * @returns frames of beats, each at least three.
 */
export function candidatesOf(scores: Scores, step: (fraction: number) => void): number[][] {
  const lengths = RANGES.map(([slowest, fastest]) => ({ shortest: Math.ceil((60 * FRAME_RATE) / fastest), longest: Math.floor((60 * FRAME_RATE) / slowest) }));
  const found: number[][] = [];
  for (const beats of decode(scores, lengths, step)) if (beats.length >= 3 && !found.some((other) => alike(other, beats))) found.push(beats);
  return found.flatMap((beats) => [beats, offBeats(beats, scores.frames)]);
}

/** The middles between beats, with one before the first and one after the last where there is room. */
function offBeats(beats: readonly number[], frames: number): number[] {
  const first = Math.round((3 * beats[0]! - beats[1]!) / 2);
  const last = Math.round((3 * beats.at(-1)! - beats.at(-2)!) / 2);
  return [first, ...beats.slice(1).map((beat, i) => Math.round((beat + beats[i]!) / 2)), last].filter((frame) => frame >= 0 && frame < frames);
}

const SAME_FRAMES = 4;
const SAME_SHARE = 0.95;

/** Whether nearly all beats of both are the same. */
function alike(a: readonly number[], b: readonly number[]): boolean {
  return shared(a, b) >= SAME_SHARE * Math.max(a.length, b.length);
}

/** How many beats of one have a beat of the other within 40 ms. Both in order. */
export function shared(a: readonly number[], b: readonly number[]): number {
  let count = 0;
  let j = 0;
  for (const beat of a) {
    while (j < b.length && b[j]! < beat - SAME_FRAMES) j++;
    if (j < b.length && b[j]! <= beat + SAME_FRAMES) count++;
  }
  return count;
}
