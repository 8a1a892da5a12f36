import { describe, expect, it } from 'vitest';
import type { Said } from '../../server/core/slot-state.ts';
import { rule, trimReopens, verdictOnReturn, type Ask, type Standing } from '../../server/offers/rules.ts';

const at = new Date('2026-05-02T10:00:00Z');
const offer = (id: string, verdict: Said, removedAt: Date | null = null): Standing => ({ id, verdict, in: 0, outExclusive: 48, removedAt });
const ask = (given: Partial<Ask>): Ask => ({ offerId: 'a', verdict: 'approve', reason: '', decisions: 3, trim: null, by: 'maren', at, ...given });
const outcome = (offers: Standing[], given: Partial<Ask>) => {
  try {
    return rule({ decisions: 3 }, offers, ask(given)).map(({ id, verdict }) => `${id} ${verdict}`).join(', ');
  } catch (error) {
    return (error as { code: string }).code;
  }
};

describe('what a verdict changes', () => {
  it.each<[string, Standing[], Partial<Ask>, string]>([
    ['approve the first', [offer('a', 'open')], {}, 'a approve'],
    ['approve another: the former pick steps down first', [offer('a', 'open'), offer('b', 'approve')], {}, 'b hold, a approve'],
    ['approve the pick again', [offer('a', 'approve'), offer('b', 'hold')], {}, 'a approve'],
    ['approve what was passed', [offer('a', 'pass')], {}, 'a approve'],
    ['a removed pick does not step down', [offer('a', 'open'), offer('b', 'approve', at)], {}, 'a approve'],
    ['hold beside a pick', [offer('a', 'open'), offer('b', 'approve')], { verdict: 'hold' }, 'a hold'],
    ['hold the pick', [offer('a', 'approve')], { verdict: 'hold' }, 'a hold'],
    ['pass the pick', [offer('a', 'approve')], { verdict: 'pass', reason: 'Horizon tilts' }, 'a pass'],
    ['take a verdict back', [offer('a', 'approve')], { verdict: 'open' }, 'a open'],
    ['pass without a reason', [offer('a', 'open')], { verdict: 'pass' }, 'reason-needed'],
    ['pass with an empty reason', [offer('a', 'open')], { verdict: 'pass', reason: ' \n' }, 'reason-needed'],
    ['an older count', [offer('a', 'open')], { decisions: 2 }, 'decided-meanwhile'],
    ['a count that has not been yet', [offer('a', 'open')], { decisions: 4 }, 'decided-meanwhile'],
    ['an older trim', [offer('a', 'open')], { trim: { in: 2, outExclusive: 48 } }, 'trimmed-meanwhile'],
    ['the trim as it is', [offer('a', 'open')], { trim: { in: 0, outExclusive: 48 } }, 'a approve'],
    ['a removed offer', [offer('a', 'open', at)], {}, 'removed-meanwhile'],
    ['an offer of another slot', [offer('b', 'open')], {}, 'not-found'],
  ])('%s', (_, offers, given, expected) => {
    expect(outcome(offers, given)).toBe(expected);
  });

  it('names who decided and when, and forgets both when a verdict is taken back', () => {
    expect(rule({ decisions: 3 }, [offer('a', 'open')], ask({ verdict: 'pass', reason: ' Horizon tilts ' }))).toEqual([
      { id: 'a', verdict: 'pass', reason: 'Horizon tilts', decidedById: 'maren', decidedAt: at },
    ]);
    expect(rule({ decisions: 3 }, [offer('a', 'pass')], ask({ verdict: 'open', reason: 'no' }))).toEqual([
      { id: 'a', verdict: 'open', reason: '', decidedById: null, decidedAt: null },
    ]);
  });
});

it('a pick is open again only when somebody trims it who gives no verdicts', () => {
  expect([trimReopens(offer('a', 'approve'), false), trimReopens(offer('a', 'approve'), true), trimReopens(offer('a', 'hold'), false)]).toEqual([true, false, false]);
});

it('an offer comes back with its verdict, but never as a second pick', () => {
  expect(verdictOnReturn(offer('a', 'approve'), [offer('b', 'hold')])).toBe('approve');
  expect(verdictOnReturn(offer('a', 'approve'), [offer('b', 'approve')])).toBe('hold');
  expect(verdictOnReturn(offer('a', 'approve'), [offer('b', 'approve', at)])).toBe('approve');
  expect(verdictOnReturn(offer('a', 'pass'), [offer('b', 'approve')])).toBe('pass');
});
