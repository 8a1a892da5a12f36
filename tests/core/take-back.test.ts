import { describe, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import type { Item } from '../../server/outline/contract.ts';
import { takeBack } from '../../server/outline/take-back.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';

// The rule itself is our own; each case says what it must come to, and the random ones are checked against its words.
const line = (id: string, rest: Partial<Item> = {}): Item => ({ id, kind: 'part', parentId: null, orderKey: id, name: id, role: 'body', wish: { kind: 'open' }, fitted: null, mustShow: '', comesIn: '', goesOut: '', decisions: 0, removedAt: null, removalId: null, ...rest });
const gone = (item: Item, removalId: string): Item => ({ ...item, removedAt: '2026-03-03T06:00:00.000Z', removalId });
const BY_THIS = { removalId: 'by this', removedAt: '2026-03-04T06:00:00.000Z' };
const apply = (rows: readonly Item[], changed: readonly Item[]): Item[] => rows.map((row) => changed.find(({ id }) => id === row.id) ?? row);
const living = (rows: readonly Item[]): string[] => outlineOrder(rows.filter(({ removedAt }) => removedAt === null)).map(({ label, row }) => `${label} ${row.name}`);

describe('taking a change back', () => {
  it('puts everything where and as it was', () => {
    const before = [line('a'), line('b', { parentId: 'a', wish: { kind: 'range', min: 3, max: 9 } })];
    const after = [line('a', { name: 'A' }), gone(before[1]!, 'r'), line('c')];
    const { changed, kept } = takeBack(after, before, after, BY_THIS);
    expect(kept).toEqual([]);
    expect(apply(after, changed)).toEqual([before[0], before[1], { ...line('c'), ...BY_THIS }]);
  });

  it('leaves a field that was changed since, and takes back the others of the line', () => {
    const before = [line('a'), line('b')];
    const after = [line('a', { name: 'A', mustShow: 'mud', parentId: 'b' })];
    const now = [line('a', { name: 'A by the sea', mustShow: 'mud', parentId: 'b' }), line('b')];
    expect(takeBack(now, before, after, BY_THIS)).toEqual({ changed: [line('a', { name: 'A by the sea' })], kept: [now[0]] });
  });

  it('says nothing of what somebody put back already', () => {
    const before = [line('a', { name: 'old' }), line('b')];
    const after = [line('a', { name: 'new' }), gone(line('b'), 'r')];
    expect(takeBack(before, before, after, BY_THIS)).toEqual({ changed: [], kept: [] });
  });

  it('keeps a line that came with it and was written in since, and the part it stands in', () => {
    const after = [line('a'), line('b', { parentId: 'a', orderKey: 'b' }), line('c')];
    const now = [line('a'), line('b', { parentId: 'a', orderKey: 'b', mustShow: 'spray' }), line('c')];
    const { changed, kept } = takeBack(now, [], after, BY_THIS);
    expect([living(apply(now, changed)), kept.map(({ id }) => id).sort()]).toEqual([['1 a', '1.1 b'], ['a', 'b']]);
  });

  it('keeps a part that came with it where somebody put a line into it since', () => {
    const now = [line('a'), line('mine', { kind: 'slot', parentId: 'a' })];
    const { changed, kept } = takeBack(now, [], [line('a')], BY_THIS);
    expect([changed, kept.map(({ id }) => id)]).toEqual([[], ['a']]);
  });

  it('brings nothing back into a part that somebody removed since, and moves nothing into itself', () => {
    const before = [line('a'), line('b', { parentId: 'a' }), line('c')];
    const after = [gone(line('b', { parentId: 'a' }), 'r'), line('c', { parentId: 'a' })];
    const removed = [gone(line('a'), 'other'), gone(line('b', { parentId: 'a' }), 'r'), line('c', { parentId: null, orderKey: 'z' })];
    const one = takeBack(removed, before, after, BY_THIS);
    expect([living(apply(removed, one.changed)), one.kept.map(({ id }) => id).sort()]).toEqual([['1 c'], ['b', 'c']]);
    const [was, left, now] = [[line('x', { parentId: 'y' }), line('y')], [line('x')], [line('x'), line('y', { parentId: 'x' })]];
    expect(takeBack(now, was, left, BY_THIS)).toEqual({ changed: [], kept: [now[0]] });
  });

  it('of 2,000 random meetings makes a tree each time, takes back what nobody touched, and leaves what somebody did', () => {
    const random = randomFrom(11);
    const names = ['a', 'b', 'c', 'd', 'e', 'f'];
    /** Some rows as others left them: moved, renamed, removed with all in them, brought back. */
    function workOn(rows: readonly Item[], times: number, by: string): Item[] {
      const next = new Map(rows.map((row) => [row.id, row]));
      const within = (id: string | null, top: string): boolean => id !== null && (id === top || within(next.get(id)!.parentId, top));
      for (let i = 0; i < times; i++) {
        const row = next.get(oneOf(random, names))!;
        const turn = random();
        if (row.removedAt !== null) {
          const parent = row.parentId === null ? null : next.get(row.parentId)!;
          if (turn < 0.5) next.set(row.id, { ...row, parentId: parent?.removedAt === null ? parent.id : null, removedAt: null, removalId: null });
        } else if (turn < 0.3) next.set(row.id, { ...row, name: `${row.name}${by}` });
        else if (turn < 0.7) {
          const into = random() < 0.3 ? null : oneOf(random, names);
          if (into === null || (next.get(into)!.removedAt === null && !within(into, row.id))) next.set(row.id, { ...row, parentId: into, orderKey: `${by}${i}` });
        } else for (const other of next.values()) if (other.removedAt === null && within(other.id, row.id)) next.set(other.id, gone(other, `${by}${i}`));
      }
      return [...next.values()];
    }
    let [whole, partly] = [0, 0];
    for (let n = 0; n < 2000; n++) {
      const before = workOn(names.map((id) => line(id)), 8, 'o');
      const changed = workOn(before, 1 + Math.floor(random() * 6), 'm');
      const after = changed.filter((row) => row !== before.find(({ id }) => id === row.id));
      const now = workOn(changed, Math.floor(random() * 4), 's');
      const taken = takeBack(now, before.filter(({ removedAt }) => removedAt === null), after, BY_THIS);
      const end = new Map(apply(now, taken.changed).map((row) => [row.id, row]));
      const kept = new Set(taken.kept.map(({ id }) => id));
      for (const row of end.values()) {
        const seen = new Set([row.id]);
        for (let at = row.removedAt === null ? row.parentId : null; at !== null; at = end.get(at)!.parentId) {
          expect([seen.has(at), end.get(at)!.removedAt], `${n}: ${row.id} stands`).toEqual([false, null]);
          seen.add(at);
        }
        const [was, left, is] = [before, after, now].map((rows) => rows.find(({ id }) => id === row.id));
        if (!left) expect(row, `${n}: untouched ${row.id}`).toEqual(is);
        else if (!kept.has(row.id) && was!.removedAt === null && row.removedAt === null) expect([row.name, row.parentId, row.orderKey], `${n}: ${row.id}`).toEqual([was!.name, was!.parentId, was!.orderKey]);
        if (left && is!.name !== left.name && row.removedAt === null && is!.removedAt === null) expect(row.name, `${n}: renamed since`).toBe(is!.name);
      }
      if (taken.kept.length > 0) partly++;
      else whole++;
    }
    expect(Math.min(whole, partly)).toBeGreaterThan(200);
  });
});
