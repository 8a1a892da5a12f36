import { expect, it } from 'vitest';
import { linesOf, shapeByNumbers, shotsOf } from '#core/shape-numbers.ts';

// 3:00 as 5 × 3 × 7: common practice, no source.
it('makes 105 shots of 5 × 3 × 7, in order', () => {
  const lines = shapeByNumbers({ sequences: 5, subsequences: 3, shots: 7 });
  expect([0, 1, 2].map((depth) => lines.filter((line) => line.depth === depth).length)).toEqual([5, 15, 105]);
  expect(lines.filter(({ kind }) => kind === 'slot')).toHaveLength(105);
  expect(lines.slice(0, 3).map(({ name }) => name)).toEqual(['Sequence 1', 'Subsequence 1.1', 'Shot 1']);
});

it('puts the shots into the sequences where there are no subsequences, and counts before it makes', () => {
  const shape = { sequences: 2, subsequences: 0, shots: 3 };
  expect(shapeByNumbers(shape).map(({ depth }) => depth)).toEqual([0, 1, 1, 1, 0, 1, 1, 1]);
  expect([shotsOf(shape), linesOf(shape)]).toEqual([6, 8]);
  expect(() => shapeByNumbers({ sequences: 50, subsequences: 10, shots: 10 })).toThrow(RangeError);
});
