import { fit, type FitSlot } from '../../server/core/fit.ts';
import { dice } from '../fixtures/outlines.ts';
import type { Figure } from './run.ts';

const SLOTS = 500;
const MARKS = 2000;
const ROUNDS = 30;
const BAR = 3;

/**
 * 500 slots of a ten-minute film, each free by a quarter, against 2,000 marks; beside it a plain scan of the same table:
 * every cell (a slot, a frame it can end at) is read from the row above, has its mark added, and is written, with the
 * least of the row kept. What a cell costs beyond that is the fit itself. Both take turns in one run.
 */
export default async function fitBench(): Promise<Figure[]> {
  const roll = dice(5);
  const slots: FitSlot[] = Array.from({ length: SLOTS }, (_, i) => {
    const planned = 20 + Math.floor(roll() * 18);
    return { min: Math.ceil(planned * 0.75), planned, max: Math.floor(planned * 1.25), weight: i % 100 === 0 ? 4 : i % 20 === 0 ? 2 : 1 };
  });
  const total = slots.reduce((sum, { planned }) => sum + planned, 0);
  const marks = Array.from({ length: MARKS }, () => ({ frame: Math.floor(roll() * total), strength: roll() }));
  const worth = new Float64Array(total + 1);
  for (const { frame, strength } of marks) worth[frame] = Math.max(worth[frame]!, strength);

  const rows = slots.map((_, i) => rowOf(slots, total, i));
  const [fits, scans]: [number[], number[]] = [[], []];
  let least = 0;
  for (let n = 0; n < ROUNDS; n++) {
    let from = performance.now();
    if ('noFitAt' in fit(slots, total, marks)) throw new Error('The bench asks for what cannot be.');
    fits.push(performance.now() - from);
    from = performance.now();
    least += scan(slots, rows, total, worth);
    scans.push(performance.now() - from);
  }
  if (!Number.isFinite(least)) throw new Error('The scan came to nothing.');
  // The quickest of each: what else the machine does only ever adds.
  const [whole, plain] = [Math.min(...fits), Math.min(...scans)];
  return [
    { figure: 'fit of 500 slots to 2,000 marks / plain scan of the same table', value: round(whole / plain), unit: 'times the time', bar: BAR, ok: whole / plain <= BAR },
    { figure: 'fit of 500 slots to 2,000 marks', value: round(whole), unit: 'ms', bar: null, ok: null },
    { figure: 'plain scan of the same table', value: round(plain), unit: 'ms', bar: null, ok: null },
  ];
}

/** The frames at which a slot can end, so that the film can still end where it does. */
function rowOf(slots: readonly FitSlot[], total: number, i: number): { first: number; last: number } {
  const sum = (of: 'min' | 'max', from: number, to: number) => slots.slice(from, to).reduce((all, slot) => all + slot[of], 0);
  return { first: Math.max(sum('min', 0, i + 1), total - sum('max', i + 1, SLOTS)), last: Math.min(sum('max', 0, i + 1), total - sum('min', i + 1, SLOTS)) };
}

function scan(slots: readonly FitSlot[], rows: readonly { first: number; last: number }[], total: number, worth: Float64Array): number {
  let [before, now] = [new Float64Array(total + 1), new Float64Array(total + 1)];
  let least = Infinity;
  for (const [i, { planned, weight }] of slots.entries()) {
    const { first, last } = rows[i]!;
    const row = new Int32Array(last - first + 1);
    least = Infinity;
    let place = first;
    for (let f = first; f <= last; f++) {
      const value = before[Math.max(0, f - planned)]! - weight * worth[f]!;
      if (value < least) [least, place] = [value, f];
      now[f] = value;
      row[f - first] = place;
    }
    [before, now] = [now, before];
  }
  return least;
}

const round = (value: number): number => Math.round(value * 100) / 100;
