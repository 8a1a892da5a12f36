import { describe, expect, it } from 'vitest';
import { branchOf, outlineOrder, sequenceOf, type OutlineRow } from '../../server/core/outline.ts';
import { placeAt, placeDown, placeIn, placeOut, placeUp } from '../../server/core/outline-moves.ts';
import { rate } from '../../server/core/rate.ts';
import { budgetOf } from '../../server/core/budget.ts';
import { runningMap } from '../../server/core/running-map.ts';
import { OPEN } from '../../server/core/wish.ts';

// Every expected value here is worked by hand from the small outline below; 25 frames a second, so 1:00 is 1500 frames.
const pal = rate(25);

const row = (id: string, parentId: string | null, orderKey: string, kind: 'part' | 'slot', frames: number | null = null): OutlineRow => ({ id, kind, parentId, orderKey, wish: frames === null ? OPEN : { kind: 'fixed', frames }, fitted: null });

/*
 * 1   opening       10 s of its own
 * 1.1   low water    4 s
 * 1.2   bell         8 s
 * 2   crossing      (no length)
 * 2.1   causeway    (no length)
 * 2.1.1   walkers    6 s
 * 2.1.2   wheel     (no length)
 * 2.2   tide         3 s
 * 3   closing       (no length, nothing inside)
 */
const ROWS = [
  row('closing', null, 'a2', 'part'),
  row('tide', 'crossing', 'a1', 'slot', 75),
  row('wheel', 'causeway', 'a1', 'slot'),
  row('opening', null, 'a0', 'part', 250),
  row('bell', 'opening', 'a0V', 'slot', 200),
  row('crossing', null, 'a1', 'part'),
  row('walkers', 'causeway', 'a0', 'slot', 150),
  row('low-water', 'opening', 'a0', 'slot', 100),
  row('causeway', 'crossing', 'a0', 'part'),
];
const lines = outlineOrder(ROWS);
const line = (id: string) => lines.find((other) => other.row.id === id)!;

describe('outlineOrder', () => {
  it('goes down the page, each part before what is in it, with numbers', () => {
    expect(lines.map(({ label, row }) => `${label} ${row.id}`)).toEqual([
      '1 opening', '1.1 low-water', '1.2 bell', '2 crossing', '2.1 causeway', '2.1.1 walkers', '2.1.2 wheel', '2.2 tide', '3 closing',
    ]);
    expect(lines.map(({ depth }) => depth)).toEqual([0, 1, 1, 0, 1, 2, 2, 1, 0]);
  });

  it('does not depend on the order of the rows', () => {
    expect(outlineOrder(ROWS.toReversed()).map(({ row }) => row.id)).toEqual(lines.map(({ row }) => row.id));
  });

  it('puts two lines of one key in the order of their ids, and compares by code unit', () => {
    const twins = outlineOrder([row('b', null, 'a0', 'part'), row('a', null, 'a0', 'part'), row('c', null, 'Zz', 'part')]);
    expect(twins.map(({ row }) => row.id)).toEqual(['c', 'a', 'b']);
  });

  it('shows a line whose part is missing rather than hide it', () => {
    expect(outlineOrder([row('lost', 'gone', 'a0', 'slot')]).map(({ depth }) => depth)).toEqual([0]);
  });

  it('knows the sequence of a slot, and the branch of a part', () => {
    expect(sequenceOf(line('wheel')).row.id).toBe('crossing');
    expect(sequenceOf(line('closing')).row.id).toBe('closing');
    expect(branchOf(line('crossing')).map(({ row }) => row.id)).toEqual(['crossing', 'causeway', 'walkers', 'wheel', 'tide']);
  });
});

describe('moves by one step', () => {
  it.each([
    ['up', 'bell', { parentId: 'opening', afterId: null }],
    ['up', 'closing', { parentId: null, afterId: 'opening' }],
    ['up', 'opening', null],
    ['up', 'low-water', null],
    ['up', 'causeway', { parentId: 'opening', afterId: 'bell' }],
    ['down', 'low-water', { parentId: 'opening', afterId: 'bell' }],
    ['down', 'bell', { parentId: 'crossing', afterId: null }],
    ['down', 'tide', { parentId: 'closing', afterId: null }],
    ['down', 'wheel', null],
    ['down', 'closing', null],
    ['in', 'tide', { parentId: 'causeway', afterId: 'wheel' }],
    ['in', 'closing', { parentId: 'crossing', afterId: 'tide' }],
    ['in', 'bell', null],
    ['in', 'opening', null],
    ['out', 'wheel', { parentId: 'crossing', afterId: 'causeway' }],
    ['out', 'causeway', { parentId: null, afterId: 'crossing' }],
    ['out', 'tide', null],
    ['out', 'opening', null],
  ] as const)('%s: %s', (way, id, expected) => {
    const move = { up: () => placeUp(lines, line(id)), down: () => placeDown(lines, line(id)), in: () => placeIn(lines, line(id)), out: () => placeOut(line(id)) }[way];
    expect(move()).toEqual(expected);
  });
});

describe('places of a dragged line', () => {
  it.each([
    ['tide', 'bell', 'before', { parentId: 'opening', afterId: 'low-water' }],
    ['tide', 'low-water', 'before', { parentId: 'opening', afterId: null }],
    ['low-water', 'bell', 'before', { parentId: 'opening', afterId: null }],
    ['tide', 'closing', 'inside', { parentId: 'closing', afterId: null }],
    ['tide', 'bell', 'inside', null],
    ['tide', 'closing', 'after', null],
    ['closing', 'opening', 'before', { parentId: null, afterId: null }],
    ['crossing', 'wheel', 'after', null],
    ['crossing', 'crossing', 'after', null],
    ['causeway', 'opening', 'after', { parentId: null, afterId: 'opening' }],
  ] as const)('%s on %s, %s', (moved, target, where, expected) => {
    expect(placeAt(lines, line(moved), line(target), where)).toEqual(expected);
  });
});

describe('runningMap', () => {
  // The opening asks for 250 and what is in it for 300; the film has 1000 frames.
  const { levels, total } = runningMap(lines, budgetOf(lines, 1000, pal));
  const bands = (level: number) => levels[level]!.map(({ line, in: from, outExclusive }) => [line.row.id, from, outExclusive]);

  it('lays the budget out in running time, one row a level, without a hole', () => {
    expect(total).toBe(1000);
    expect(bands(0).map(([id]) => id)).toEqual(['opening', 'crossing', 'closing']);
    expect(bands(1).map(([id]) => id)).toEqual(['low-water', 'bell', 'causeway', 'tide']);
    expect(bands(2).map(([id]) => id)).toEqual(['walkers', 'wheel']);
    const top = levels[0]!;
    expect([top[0]!.in, top[1]!.in - top[0]!.outExclusive, top[2]!.in - top[1]!.outExclusive, top[2]!.outExclusive]).toEqual([0, 0, 0, 1000]);
  });

  it('is empty for an empty outline', () => {
    expect(runningMap([], budgetOf([], 100, pal))).toEqual({ levels: [], total: 0 });
  });
});
