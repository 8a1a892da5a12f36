// The search for beats against the same dynamic programme written plainly, with everything kept.
import { expect, it } from 'vitest';
import { decode, likelihood } from '../../server/music/analysis/decode.ts';
import { FLUX_BANDS } from '../../server/music/analysis/features.ts';
import { LEVELS } from '../../server/music/analysis/levels.ts';
import { CELLS, edgesOf, PlainScores, Scores } from '../../server/music/analysis/patterns.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';

const SHORTEST = 40;
const LONGEST = 46;
/** As search.ts has it. */
const CHANGE_COST = 400;

const random = randomFrom(7);
const patterns = (count: number) => ({
  weights: Array.from({ length: count }, () => Array.from({ length: CELLS }, () => Array.from({ length: FLUX_BANDS * LEVELS }, () => random() - 0.5))),
  change: Array.from({ length: count }, () => Array<number>(count).fill(-Math.log(count))),
});
const levels = (frames: number): Uint8Array => Uint8Array.from({ length: frames * FLUX_BANDS }, () => oneOf(random, [0, 1, 2, 3, 4, 5, 6, 7]));

/** One pattern; times run as in `decode`, from a longest beat before the piece to one after it. */
function plainly(scores: Scores): number[] {
  const end = scores.frames + 2 * LONGEST;
  const lengths = Array.from({ length: LONGEST - SHORTEST + 1 }, (_, i) => SHORTEST + i);
  const beat = new Float64Array(1);
  const ended = Array.from({ length: end + 1 }, () => lengths.map(() => ({ score: -Infinity, before: -1 })));
  for (let at = 0; at <= end; at++) {
    lengths.forEach((length, i) => {
      const start = at - length;
      if (start < 0) return;
      scores.beat(start - LONGEST, edgesOf(length), beat, 0);
      let best = { score: start < LONGEST ? 0 : -Infinity, before: -1 };
      ended[start]!.forEach(({ score }, before) => {
        const come = score - CHANGE_COST * Math.abs(Math.log(length / lengths[before]!));
        if (come > best.score) best = { score: come, before };
      });
      ended[at]![i] = { score: best.score + beat[0]!, before: best.before };
    });
  }
  let last = { at: end, i: 0 };
  for (let at = end - LONGEST; at <= end; at++) for (const i of lengths.keys()) if (ended[at]![i]!.score > ended[last.at]![last.i]!.score) last = { at, i };
  const beats = [last.at];
  for (let { at, i } = last; i !== -1; ) {
    const { before } = ended[at]![i]!;
    at -= lengths[i]!;
    beats.push(at);
    i = before;
  }
  return beats.reverse().map((at) => at - LONGEST).filter((at) => at >= 0 && at < scores.frames);
}

it.each([30, 1000, 9000])('the best beats of %i frames of noise are those of the plain programme', (frames) => {
  const scores = new Scores(levels(frames), patterns(1));
  const [found] = decode(scores, [{ shortest: SHORTEST, longest: LONGEST }], () => {});
  expect(found).toEqual(plainly(scores));
});

it('ranges that are searched at once give what each gives alone', () => {
  const scores = new Scores(levels(5000), patterns(3));
  const ranges = [{ shortest: 30, longest: 44 }, { shortest: 40, longest: 60 }];
  expect(decode(scores, ranges, () => {}).map(([first]) => first !== undefined)).toEqual([true, true]);
  const [together, alone] = [decode(scores, ranges, () => {}), ranges.map((range) => decode(scores, [range], () => {})[0]!)];
  // Before the piece and after it nothing speaks for a beat, so only there may they differ.
  expect(together.map((beats) => beats.slice(2, -2))).toEqual(alone.map((beats) => beats.slice(2, -2)));
});

it('beats are as likely added up frame by frame as by edges', () => {
  const [piece, some] = [levels(3000), patterns(5)];
  const beats = Array.from({ length: 60 }, (_, i) => i * 47);
  expect(likelihood(new PlainScores(piece, some), beats)).toBeCloseTo(likelihood(new Scores(piece, some), beats), 6);
});
