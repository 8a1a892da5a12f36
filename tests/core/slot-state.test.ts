import { expect, it } from 'vitest';
import { slotState, type Said } from '../../server/core/slot-state.ts';

const up = (verdict: Said, removedAt: string | null = null) => ({ verdict, removedAt });

it.each([
  ['no offer', [], { is: 'empty' }],
  ['one offer', [up('open')], { is: 'offered', count: 1 }],
  ['open and held', [up('open'), up('hold')], { is: 'offered', count: 2 }],
  ['all passed: it still lacks a shot', [up('pass'), up('pass')], { is: 'empty' }],
  ['a passed one does not count', [up('pass'), up('open')], { is: 'offered', count: 1 }],
  ['a pick', [up('hold'), up('approve'), up('pass')], { is: 'approved', count: 2, pick: up('approve') }],
  ['a removed pick is none', [up('approve', '2026-05-02T10:00:00.000Z'), up('hold')], { is: 'offered', count: 1 }],
])('a slot with %s', (_, offers, state) => {
  expect(slotState(offers)).toEqual(state);
});
