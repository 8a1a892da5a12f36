import type { FitPart, FitSlot, FitTie } from './fit.ts';

/*
 * Where changes can stand at all. With b(i) the frame at which slot i begins, and b(n) the end of the film, a slot says
 * min ≤ b(i + 1) − b(i) ≤ max, a part says the same of its two ends, and a tie gives one b(i). Such differences have for
 * each b(i) one stretch of whole frames, every frame of which some way through has, and narrowing the stretches
 * by one difference after the other until none gives way finds it. (A simple temporal problem: R. Dechter, I. Meiri,
 * J. Pearl, Temporal constraint networks, Artificial Intelligence 49, 1991; cited from memory.)
 */

/** For each place between slots (0: before the first) the frames it can have: from `first` to `last`, all of them. */
export interface Reach {
  readonly first: Int32Array;
  readonly last: Int32Array;
}

/** Why nothing fits: `slot` is the first whose beginning (or, one past the last, the film's end) cannot stand anywhere. */
export interface NoFit {
  readonly noFitAt: number;
}

/** The frames every change can have, or where there are none. */
export function reachOf(slots: readonly FitSlot[], total: number, ties: readonly FitTie[], parts: readonly FitPart[] = []): Reach | NoFit {
  const count = slots.length;
  const first = new Int32Array(count + 1);
  const last = new Int32Array(count + 1).fill(total);
  [first[count], last[0]] = [total, 0];
  for (const { slot, frame } of ties) [first[slot], last[slot]] = [Math.max(first[slot]!, frame), Math.min(last[slot]!, frame)];
  const differences = [...slots.map(({ min, max }, i) => ({ from: i, to: i + 1, min, max })), ...parts];
  const [forward, backward] = [differences.toSorted((a, b) => a.to - b.to), differences.toSorted((a, b) => b.from - a.from)];

  /** Narrows both ends of a difference; whether that changed anything. */
  function narrow({ from, to, min, max }: FitPart): boolean {
    const before = last[from]! - first[from]! + last[to]! - first[to]!;
    first[to] = Math.max(first[to]!, first[from]! + min);
    last[to] = Math.min(last[to]!, last[from]! + max);
    first[from] = Math.max(first[from]!, first[to]! - max);
    last[from] = Math.min(last[from]!, last[to]! - min);
    return last[from]! - first[from]! + last[to]! - first[to]! !== before;
  }

  for (let changed = true; changed; ) {
    changed = false;
    for (const list of [forward, backward])
      for (const one of list) {
        if (!narrow(one)) continue;
        changed = true;
        for (const at of [one.to, one.from]) if (first[at]! > last[at]!) return { noFitAt: at };
      }
  }
  for (let at = 0; at <= count; at++) if (first[at]! > last[at]!) return { noFitAt: at };
  return { first, last };
}
