import { budgetOf } from '../../server/core/budget.ts';
import { dice, fixed, linesOf, range, type Sketch } from '../fixtures/outlines.ts';
import type { Figure } from './run.ts';

const SLOTS = 2000;
const FRAMES = 36_000;
const ROUNDS = 20;
const BAR_MS = 50;

/** What a key stroke in a length costs: 2,000 slots in 100 parts, half of them with a wish, over 36,000 frames. The quickest of the rounds. */
export default async function budgetBench(): Promise<Figure[]> {
  const roll = dice(3);
  const mean = FRAMES / SLOTS;
  const slot = (): Sketch => (roll() < 0.5 ? {} : roll() < 0.6 ? { wish: fixed(Math.ceil(roll() * 2 * mean)) } : { wish: range(Math.ceil(mean / 2), Math.ceil(mean * 1.5)) });
  const lines = linesOf(
    Array.from({ length: 10 }, () => ({ wish: range(FRAMES / 12, FRAMES / 8), inside: Array.from({ length: 10 }, () => ({ inside: Array.from({ length: SLOTS / 100 }, slot) })) })),
  );
  const times = Array.from({ length: ROUNDS }, () => {
    const from = performance.now();
    budgetOf(lines, FRAMES, { num: 25, den: 1 });
    return performance.now() - from;
  });
  const quickest = Math.round(Math.min(...times) * 100) / 100;
  return [{ figure: 'budget of 2,000 slots over 36,000 frames', value: quickest, unit: 'ms', bar: BAR_MS, ok: quickest <= BAR_MS }];
}
