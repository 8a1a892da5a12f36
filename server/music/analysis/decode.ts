import { edgesOf } from './patterns.ts';
import type { Likelihoods, Scores } from './patterns.ts';
import { Search } from './search.ts';

/** Lengths of a beat, in frames, both inclusive. */
export interface Lengths {
  readonly shortest: number;
  readonly longest: number;
}

/**
 * The beats that explain a piece best, once for each range of lengths: the bar-pointer model of Krebs, Böck and Widmer (2013,
 * 2015), in which the tempo may change only at beats, as a dynamic programme over whole beats. The best path that ends a beat
 * of length L and pattern p at frame t goes back to t − L. Exact, in time O(frames × lengths × patterns²).
 * @param step called now and then with the share done, 0 to 1; throws to stop.
 * @returns for each range the frames of the beats, in order; few or none where the piece is short.
 */
export function decode(scores: Scores, ranges: readonly Lengths[], step: (fraction: number) => void): number[][] {
  const { frames, patterns } = scores;
  const shortest = Math.min(...ranges.map((range) => range.shortest));
  const longest = Math.max(...ranges.map((range) => range.longest));
  const edges = Array.from({ length: longest - shortest + 1 }, (_, i) => edgesOf(shortest + i));
  // Time runs from a longest beat before the piece to one after it, where nothing speaks for or against a beat: a path that
  // need not cover the whole piece would squeeze in beats to cover more of it.
  const end = frames + 2 * longest;
  const searches = ranges.map((range) => new Search(range, { end, mayBegin: longest, change: scores.change, patterns }));
  const beats = new Float64Array(edges.length * patterns);
  for (let frame = 0; frame <= end; frame++) {
    for (let i = 0; i < edges.length && shortest + i <= frame; i++) scores.beat(frame - shortest - i - longest, edges[i]!, beats, i * patterns);
    for (const search of searches) search.at(frame, beats, shortest);
    if (frame % STEP_FRAMES === 0) step(frame / end);
  }
  return searches.map((search) => search.best().map((beat) => beat - longest).filter((beat) => beat >= 0 && beat < frames));
}

const STEP_FRAMES = 1000;

/** Log likelihood over background of given beats under the best sequence of patterns: what `decode` makes as large as it can, less the cost of changes. */
export function likelihood(scores: Likelihoods, beats: readonly number[]): number {
  const { patterns, change } = scores;
  let ended = new Float64Array(patterns);
  let next = new Float64Array(patterns);
  const beat = new Float64Array(patterns);
  for (let i = 0; i + 1 < beats.length; i++) {
    scores.beat(beats[i]!, edgesOf(beats[i + 1]! - beats[i]!), beat, 0);
    for (let p = 0; p < patterns; p++) {
      let most = i === 0 ? 0 : -Infinity;
      for (let q = 0; q < patterns && i > 0; q++) most = Math.max(most, ended[q]! + change[q * patterns + p]!);
      next[p] = most + beat[p]!;
    }
    [ended, next] = [next, ended];
  }
  return Math.max(...ended);
}
