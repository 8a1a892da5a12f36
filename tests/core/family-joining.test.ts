import { expect, test } from 'vitest';
import { joined, split } from '../../web/src/families/joining.ts';
import { frameAtMoment, momentOf, sharedRanges } from '../../web/src/player/shared.ts';

const second = { num: 1, den: 1 };
const family = (id: string, members: { clipId: string; offset: { num: number; den: number } | null; by: 'hand' | null }[]) => ({ id, members, madeById: 'u', madeAt: '', removedAt: null });

test('two clips make a family, the first at its zero', () => {
  expect(joined({ clipId: 'a', family: null }, { clipId: 'b', family: null }, { offset: { num: 31, den: 25 }, by: 'sound' })).toEqual([
    { id: null, was: [], members: [{ clipId: 'a', offset: { num: 0, den: 1 }, by: 'sound' }, { clipId: 'b', offset: { num: 31, den: 25 }, by: 'sound' }] },
  ]);
});

test('a family that comes along keeps how its clips lie, and gives up its own row', () => {
  const other = family('f', [{ clipId: 'b', offset: second, by: 'hand' }, { clipId: 'c', offset: { num: 3, den: 2 }, by: 'hand' }]);
  const [gone, made] = joined({ clipId: 'a', family: null }, { clipId: 'b', family: other }, { offset: { num: 1, den: 4 }, by: 'timecode' });
  expect(gone).toEqual({ id: 'f', members: [], was: ['b', 'c'] });
  expect(made!.members.slice(1)).toEqual([{ clipId: 'b', offset: { num: 1, den: 4 }, by: 'timecode' }, { clipId: 'c', offset: { num: 3, den: 4 }, by: 'hand' }]);
});

test('the last two part together', () => {
  const two = family('f', [{ clipId: 'a', offset: null, by: null }, { clipId: 'b', offset: null, by: null }]);
  expect(split(two, ['a'])).toEqual([{ id: 'f', members: [], was: ['a', 'b'] }]);
});

test('clips of two rates play what both have, each in its own frames', () => {
  const [a, b] = [{ rate: { num: 25, den: 1 }, frames: 250, offset: { num: 0, den: 1 } }, { rate: { num: 50, den: 1 }, frames: 250, offset: { num: 2, den: 1 } }];
  expect(sharedRanges([a, b], 0)).toEqual([{ in: 50, outExclusive: 175 }, { in: 0, outExclusive: 250 }]);
  expect(sharedRanges([a, b], 3)).toEqual([{ in: 75, outExclusive: 175 }, { in: 50, outExclusive: 250 }]);
  expect(frameAtMoment(b, momentOf(a, 60))).toBe(20);
  expect(sharedRanges([a, { ...b, offset: { num: 10, den: 1 } }], 0)).toBeNull();
});
