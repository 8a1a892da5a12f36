import highs from 'highs';
import { describe, expect, it } from 'vitest';
import { budgetOf, roundingSlack, type Budget } from '../../server/core/budget.ts';
import { departureCost, type Ask } from '../../server/core/division.ts';
import type { Line, OutlineRow } from '../../server/core/outline.ts';
import { rate, RATES } from '../../server/core/rate.ts';
import { parseLength, WHOLE, type Wish } from '../../server/core/wish.ts';
import { dice, fixed, linesOf, range, share, type Sketch } from '../fixtures/outlines.ts';

// Its types describe the file that `require` gets; `import` gets the function itself.
const load = highs as unknown as typeof highs.default;
const pal = rate(25);
const film = rate(24000, 1001);
type L = Line<OutlineRow>;

const framesOf = (budget: Budget, id: string) => budget.lines.get(id)!.frames;
const all = (sketch: readonly Sketch[], total: number, at = pal) => Object.fromEntries([...budgetOf(linesOf(sketch), total, at).lines].map(([id, { frames }]) => [id, frames]));
const slots = (n: number, wish?: Wish): Sketch[] => Array.from({ length: n }, () => (wish ? { wish } : {}));

/** Parts are the sum of what is in them, the film its running time, and the bands follow each other without a hole. */
function expectExact(lines: readonly L[], budget: Budget, total: number): void {
  const sum = (list: readonly L[]) => list.reduce((frames, { row }) => frames + framesOf(budget, row.id), 0);
  expect(sum(lines.filter(({ depth }) => depth === 0))).toBe(total);
  for (const { row, children } of lines) {
    if (children.length > 0) expect(sum(children)).toBe(framesOf(budget, row.id));
    let at = budget.lines.get(row.id)!.start;
    for (const child of children) {
      expect(budget.lines.get(child.row.id)!.start).toBe(at);
      at += framesOf(budget, child.row.id);
    }
  }
}

describe('budgets that can hold', () => {
  it('3:00 at 24000/1001 as 5 × 3 × 7 is 105 shots of 41 or 42 frames that sum to the film', () => {
    // 180 × 24000 ÷ 1001 = 4315.68, so 4316 frames; 4316 ÷ 105 = 41.1. The shape is common practice, no source.
    const total = parseLength('3:00', film)!;
    expect(total).toBe(4316);
    const lines = linesOf(slots(5).map(() => ({ inside: slots(3).map(() => ({ inside: slots(7) })) })));
    const budget = budgetOf(lines, total, film);
    const shots = lines.filter(({ depth }) => depth === 2).map(({ row }) => framesOf(budget, row.id));
    expect(shots).toHaveLength(105);
    expect(new Set(shots)).toEqual(new Set([41, 42]));
    expectExact(lines, budget, total);
    expect(budget.conflicts).toEqual([]);
    // The frames left over are spread over the parts as well: 4316 ÷ 5 = 863.2, 4316 ÷ 15 = 287.7.
    expect(lines.filter(({ depth }) => depth === 0).map(({ row }) => framesOf(budget, row.id)).sort()).toEqual([863, 863, 863, 863, 864]);
    expect(new Set(lines.filter(({ depth }) => depth === 1).map(({ row }) => framesOf(budget, row.id)))).toEqual(new Set([287, 288]));
  });

  // Worked by hand.
  it.each<[string, Sketch[], number, Record<string, number>]>([
    ['a fixed length stays, the rest is divided evenly by the slots inside', [{ wish: fixed(100) }, { inside: slots(3) }, {}], 300, { 1: 100, 2: 150, '2.1': 50, '2.2': 50, '2.3': 50, 3: 50 }],
    ['a range that the even length lies in does not matter', [{ wish: range(50, 150) }, {}, {}], 300, { 1: 100, 2: 100, 3: 100 }],
    ['a range above or below the even length gives its nearer end', [{ wish: range(150, 200) }, { wish: range(10, 40) }, {}, {}], 400, { 1: 150, 2: 40, 3: 105, 4: 105 }],
    ['a share of the film, a share of a part', [{ wish: share(25), inside: [{ wish: share(10) }, {}] }, {}], 400, { 1: 100, '1.1': 10, '1.2': 90, 2: 300 }],
    ['a part of a fixed length divides it, whatever is outside', [{ wish: fixed(60), inside: slots(3) }, {}, {}], 300, { 1: 60, '1.1': 20, '1.2': 20, '1.3': 20, 2: 120, 3: 120 }],
    ['a share speaks through a part without a length: 250 and one half of the part are 500', [{ inside: [{ wish: fixed(250) }, { wish: share(50) }] }, {}], 1500, { 1: 500, '1.1': 250, '1.2': 250, 2: 1000 }],
    ['three shares of a third of 100 sum to 100, each one of the two numbers next to 33.3', [{ wish: share(33.33) }, { wish: share(33.33) }, { wish: share(33.34) }], 100, { 1: 34, 2: 33, 3: 33 }],
    ['every line has a frame where the time allows, whatever is asked', [{ wish: fixed(100) }, {}, {}], 100, { 1: 98, 2: 1, 3: 1 }],
    ['where it does not, as many as can have one', [{}, {}, {}], 2, { 1: 1, 2: 1, 3: 0 }],
    ['an empty part counts as a slot', [{ inside: [] }, { inside: slots(2) }], 300, { 1: 100, 2: 200, '2.1': 100, '2.2': 100 }],
  ])('%s', (_, sketch, total, expected) => {
    expect(all(sketch, total)).toEqual(expected);
  });

  it('is nothing for an empty outline', () => {
    expect(budgetOf([], 100, pal)).toEqual({ lines: new Map(), wished: new Map(), fit: 'none', conflicts: [] });
  });
});

describe('budgets that cannot hold', () => {
  it('lets all give in proportion: 100 and 200 in 240 give 20 and 40', () => {
    const budget = budgetOf(linesOf([{ wish: fixed(100) }, { wish: fixed(200) }]), 240, pal);
    expect([...budget.lines.values()].map(({ frames, departure }) => [frames, departure])).toEqual([[80, -20], [160, -40]]);
    expect(budget.conflicts).toEqual([{ id: null, kind: 'over', frames: 60 }]);
  });

  it('counts a part and what is in it: each gives', () => {
    // Part 100, inside 75 + 75, beside it room enough. d²/100 + 2 e²/75 with 100 + d = 150 − 2e is least where
    // (50 − 2e)/100 = e/75: e = 15, d = 20.
    const budget = budgetOf(linesOf([{ wish: fixed(100), inside: [{ wish: fixed(75) }, { wish: fixed(75) }] }, {}]), 1000, pal);
    expect([framesOf(budget, '1'), framesOf(budget, '1.1'), framesOf(budget, '1.2'), framesOf(budget, '2')]).toEqual([120, 60, 60, 880]);
    expect(budget.conflicts).toEqual([{ id: '1', kind: 'over', frames: 50 }]);
  });

  // 25 frames a second.
  it.each<[string, Sketch[], number, Budget['conflicts']]>([
    ['fixed lengths that do not fill a part', [{ wish: fixed(100), inside: [{ wish: fixed(30) }, { wish: range(20, 40) }] }, {}], 500, [{ id: '1', kind: 'short', frames: 30 }]],
    ['fixed lengths that do not fill the film', [{ wish: fixed(30) }, { wish: fixed(40) }], 100, [{ id: null, kind: 'short', frames: 30 }]],
    ['more lines than frames', slots(5), 3, [{ id: null, kind: 'over', frames: 2 }]],
    ['shares over the whole', [{ wish: share(60) }, { wish: share(60) }], 100, [{ id: null, kind: 'over', frames: 20 }]],
    ['a share that leaves nothing', [{ wish: fixed(100), inside: [{ wish: share(50) }, { wish: fixed(80) }] }, {}], 500, [{ id: '1', kind: 'over', frames: 30 }]],
    ['each place is said once, the inner one too', [{ wish: fixed(60), inside: [{ wish: fixed(50), inside: [{ wish: fixed(55) }] }, { wish: fixed(20) }] }, { wish: fixed(50) }], 100, [
      { id: null, kind: 'over', frames: 10 },
      { id: '1', kind: 'over', frames: 10 },
      { id: '1.1', kind: 'over', frames: 5 },
    ]],
    ['nothing where ranges make room', [{ wish: range(10, 60) }, { wish: range(10, 60) }], 100, []],
  ])('names the place and the size: %s', (_, sketch, total, expected) => {
    expect(budgetOf(linesOf(sketch), total, pal).conflicts).toEqual(expected);
  });

  it('takes what is only rounding for agreement: 10 s are 239.76 frames at 24000/1001, 30 s are 719.28', () => {
    const [ten, thirty] = [parseLength('10s', film)!, parseLength('30s', film)!];
    expect([ten, thirty]).toEqual([240, 719]);
    const part = (frames: number) => [{ wish: fixed(frames), inside: slots(3, fixed(ten)) }, {}];
    expect(budgetOf(linesOf(part(thirty)), 2000, film).conflicts).toEqual([]);
    expect(budgetOf(linesOf(part(thirty - 2)), 2000, film).conflicts).toEqual([{ id: '1', kind: 'over', frames: 3 }]);
    expect([roundingSlack(3, film), roundingSlack(3, pal)]).toEqual([2, 0]);
  });
});

/** Some tree of parts and slots with so many leaves, and what they wish. */
function randomSketch(roll: () => number, leaves: number, total: number, shares: 'none' | 'top' | 'anywhere', depth = 0): Sketch[] {
  const list: Sketch[] = [];
  while (leaves > 0) {
    const own = 1 + Math.floor(roll() * leaves);
    leaves -= own;
    const wished = roll();
    const frames = 1 + Math.floor(roll() * total);
    const wish: Wish | undefined =
      wished < 0.35 ? fixed(frames) : wished < 0.55 ? range(frames, frames + 1 + Math.floor(roll() * 4)) : wished < 0.75 && (shares === 'anywhere' || (shares === 'top' && depth === 0)) ? share(1 + Math.floor(roll() * 100)) : undefined;
    const inside = own > 1 || (depth < 2 && roll() < 0.2) ? { inside: depth < 2 ? randomSketch(roll, own, total, shares, depth + 1) : slots(own) } : {};
    list.push({ ...(wish ? { wish } : {}), ...inside });
  }
  return list;
}

describe('against every division there is', () => {
  /** Every way to give whole frames to the leaves. */
  function* divisions(count: number, total: number): Generator<number[]> {
    if (count === 1) yield [total];
    else for (let first = 0; first <= total; first++) for (const rest of divisions(count - 1, total - first)) yield [first, ...rest];
  }

  const spread = (line: L): L[] => (line.children.length === 0 ? [line] : line.children.flatMap(spread));

  /** The cost as the head of division.ts states it, from the lengths alone. */
  function costOf(lines: readonly L[], lengths: ReadonlyMap<L, number>, askOf: (line: L) => Ask | null): number[] {
    const cost = [0, 0, 0, 0];
    for (const line of lines) {
      const x = lengths.get(line)!;
      const leaves = spread(line).length;
      const ask = askOf(line);
      if (ask) cost[1]! += departureCost(x, ask);
      if (line.children.length > 0) cost[3]! += (x * x) / leaves;
      else [cost[0], cost[2]] = [cost[0]! + (x === 0 ? 1 : 0), cost[2]! + x * x];
    }
    return cost;
  }

  const lengthsFrom = (lines: readonly L[], leaves: readonly L[], given: readonly number[]) => {
    const lengths = new Map(leaves.map((leaf, i) => [leaf, given[i]!]));
    for (const line of lines.toReversed()) if (line.children.length > 0) lengths.set(line, line.children.reduce((sum, child) => sum + lengths.get(child)!, 0));
    return lengths;
  };
  const less = (a: readonly number[], b: readonly number[]) => {
    const i = a.findIndex((value, k) => Math.abs(value - b[k]!) > 1e-9);
    return i >= 0 && a[i]! < b[i]!;
  };

  it('costs as little as the best of all divisions, on 400 small trees', () => {
    const roll = dice(1);
    for (let n = 0; n < 400; n++) {
      const total = 1 + Math.floor(roll() * 11);
      const lines = linesOf(randomSketch(roll, 1 + Math.floor(roll() * 5), total, 'top'));
      const leaves = lines.filter(({ children }) => children.length === 0);
      const budget = budgetOf(lines, total, pal);
      expectExact(lines, budget, total);
      const askOf = ({ row: { id } }: L) => budget.lines.get(id)!.asked;
      const ours = costOf(lines, new Map(lines.map((line) => [line, framesOf(budget, line.row.id)])), askOf);
      for (const given of divisions(leaves.length, total))
        if (less(costOf(lines, lengthsFrom(lines, leaves, given), askOf), ours)) expect.fail(`${JSON.stringify(lines.map(({ row }) => [row.id, row.wish]))}: ${given} in ${total} costs less than ${JSON.stringify([...budget.lines.values()].map(({ frames }) => frames))}`);
    }
  });
});

describe('against HiGHS, a solver of quadratic programs (npm highs, MIT)', () => {
  const name = ({ row }: L) => `x${row.id.replaceAll('.', '_')}`;

  /*
   * The same cost without whole numbers is a quadratic program. Its minimum is a lower bound of ours. And ours is at
   * most the sum of 1 / asked above it: a division over a tree can be rounded so that every line and every part moves by
   * less than a frame (the constraint matrix is totally unimodular), and at the minimum the first-order terms of such a
   * move cancel, so that what is added is at most e² / asked with e < 1 for each ask.
   */
  it.each([1, 2, 3, 4])('no wish is given up that need not be: 300 slots in 60 parts, all with a length (seed %i)', async (seed) => {
    const solver = await load();
    const roll = dice(seed);
    const total = 20_000;
    const sketch: Sketch[] = slots(12).map(() => ({
      wish: fixed(800 + Math.floor(roll() * 1200)),
      inside: slots(5).map(() => ({ wish: roll() < 0.5 ? fixed(200 + Math.floor(roll() * 300)) : range(250, 350), inside: slots(5).map(() => ({ wish: fixed(30 + Math.floor(roll() * 90)) })) })),
    }));
    const lines = linesOf(sketch);
    const budget = budgetOf(lines, total, pal);
    expectExact(lines, budget, total);
    const ours = [...budget.lines.values()].reduce((sum, { frames, asked }) => sum + departureCost(frames, asked!), 0);

    const squares: string[] = [];
    const rows: string[] = [`film: ${lines.filter(({ depth }) => depth === 0).map(name).join(' + ')} = ${total}`];
    for (const line of lines) {
      const { min, max } = budget.lines.get(line.row.id)!.asked!;
      const x = name(line);
      // u is by how much it lies below, o by how much beyond.
      squares.push(`${2 / min} u${x} ^2`, `${2 / max} o${x} ^2`);
      rows.push(`lo${x}: ${x} + u${x} >= ${min}`, `hi${x}: ${x} - o${x} <= ${max}`);
      if (line.children.length > 0) rows.push(`sum${x}: ${line.children.map(name).join(' + ')} - ${x} = 0`);
    }
    const answer = solver.solve(`Minimize\nobj: [ ${squares.join(' + ')} ] / 2\nSubject To\n${rows.join('\n')}\nEnd`);
    expect(answer.Status).toBe('Optimal');
    const spare = [...budget.lines.values()].reduce((sum, { asked }) => sum + 1 / asked!.min, 0);
    expect(ours).toBeGreaterThan(0);
    // The solver is exact to about one part in a million.
    expect(ours).toBeGreaterThanOrEqual(answer.ObjectiveValue * (1 - 1e-6));
    expect(ours).toBeLessThanOrEqual(answer.ObjectiveValue * (1 + 1e-6) + spare);
  });

  it('where shares and lengths can all hold in real numbers, every line gets what it asks for within a frame, on 1,000 trees', async () => {
    const solver = await load();
    const roll = dice(2);
    let could = 0;
    for (let n = 0; n < 1000; n++) {
      const total = 50 + Math.floor(roll() * 2000);
      const lines = linesOf(randomSketch(roll, 1 + Math.floor(roll() * 7), total / 6, 'anywhere'));
      const rows = [`film: ${lines.filter(({ depth }) => depth === 0).map(name).join(' + ')} = ${total}`];
      for (const line of lines) {
        const { wish } = line.row;
        const x = name(line);
        rows.push(`one${x}: ${x} >= 1`);
        if (line.children.length > 0) rows.push(`sum${x}: ${line.children.map(name).join(' + ')} - ${x} = 0`);
        if (wish.kind === 'fixed') rows.push(`fix${x}: ${x} = ${wish.frames}`);
        if (wish.kind === 'range') rows.push(`lo${x}: ${x} >= ${wish.min}`, `hi${x}: ${x} <= ${wish.max}`);
        if (wish.kind === 'share') rows.push(line.parent ? `of${x}: ${WHOLE} ${x} - ${wish.share} ${name(line.parent)} = 0` : `of${x}: ${WHOLE} ${x} = ${wish.share * total}`);
      }
      if (solver.solve(`Minimize\nobj: 0 ${name(lines[0]!)}\nSubject To\n${rows.join('\n')}\nEnd`).Status !== 'Optimal') continue;
      could += 1;
      const budget = budgetOf(lines, total, pal);
      expectExact(lines, budget, total);
      const told = JSON.stringify([lines.map(({ row }) => [row.id, row.wish]), total]);
      for (const { departure } of budget.lines.values()) expect(Math.abs(departure), told).toBeLessThanOrEqual(1);
      for (const { frames } of budget.conflicts) expect(frames, told).toBeLessThanOrEqual(1);
    }
    expect(could).toBeGreaterThan(80);
  });
});

describe('at every rate', () => {
  it.each(RATES)('sums are exact at %j, and times run on without a hole', (at) => {
    const roll = dice(at.num + at.den);
    for (let n = 0; n < 20; n++) {
      const seconds = (least: number, most: number) => fixed(parseLength(`${least + Math.floor(roll() * (most - least))}s`, at)!);
      const sketch: Sketch[] = slots(1 + Math.floor(roll() * 6)).map(() => ({
        ...(roll() < 0.3 ? { wish: seconds(5, 60) } : roll() < 0.3 ? { wish: share(1 + Math.floor(roll() * 30)) } : {}),
        inside: slots(1 + Math.floor(roll() * 5)).map(() => (roll() < 0.4 ? { wish: seconds(1, 20) } : roll() < 0.2 ? { wish: share(33.33) } : {})),
      }));
      const total = parseLength(`${30 + Math.floor(roll() * 300)}s`, at)!;
      const lines = linesOf(sketch);
      expectExact(lines, budgetOf(lines, total, at), total);
    }
  });
});
