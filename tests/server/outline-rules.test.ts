import { describe, expect, it } from 'vitest';
import { between, spread } from '../../server/core/order.ts';
import { Refusal, type ErrorCode } from '../../server/platform/errors.ts';
import { checkRole, keyAt, placeBack, type PlacedRow } from '../../server/outline/rules.ts';

type Row = PlacedRow & { removalId: string | null };
// Keys in order; BETWEEN lies between the first and the second.
const [A, B, C] = spread(null, null, 3) as [string, string, string];
const BETWEEN = between(A, B);
const GONE = new Date('2026-05-01T12:00:00Z');
const row = (id: string, parentId: string | null, orderKey: string, kind: 'part' | 'slot', removalId: string | null = null): Row => ({
  id, kind, parentId, orderKey, removedAt: removalId ? GONE : null, removalId,
});

function refusal(work: () => unknown): { code: ErrorCode; fields: string[]; more: Record<string, unknown> } {
  try {
    work();
  } catch (error) {
    if (error instanceof Refusal) return { code: error.code, fields: error.fields.map(({ field }) => field), more: error.more };
    throw error;
  }
  throw new Error('Nothing was refused.');
}

const ROWS = [
  row('one', null, A, 'part'),
  row('two', null, B, 'part'),
  row('inner', 'two', A, 'part'),
  row('deep', 'inner', A, 'part'),
  row('first', 'one', A, 'slot'),
  row('second', 'one', B, 'slot'),
  row('removed', 'one', BETWEEN, 'slot', 'r1'),
  row('gone', null, C, 'part', 'r2'),
];
const slot = { id: null, kind: 'slot' } as const;
const part = { id: null, kind: 'part' } as const;
const moving = (id: string) => ROWS.find((other) => other.id === id)!;

describe('keyAt', () => {
  it.each([
    ['first of a part', slot, { parentId: 'one', afterId: null }, null, A],
    ['between two', slot, { parentId: 'one', afterId: 'first' }, A, B],
    ['last of a part', slot, { parentId: 'one', afterId: 'second' }, B, null],
    ['first of an empty part', slot, { parentId: 'deep', afterId: null }, null, null],
    ['at the top', part, { parentId: null, afterId: 'one' }, A, B],
    ['after a line removed meanwhile: where it stood', slot, { parentId: 'one', afterId: 'removed' }, BETWEEN, B],
    ['after a line moved to another part meanwhile: the end', slot, { parentId: 'one', afterId: 'inner' }, B, null],
    ['a move does not count the line itself', moving('second'), { parentId: 'one', afterId: 'first' }, A, null],
  ] as const)('%s', (_, who, place, left, right) => {
    const key = keyAt(ROWS, who, place);
    if (left !== null) expect(key > left).toBe(true);
    if (right !== null) expect(key < right).toBe(true);
  });

  it.each([
    ['slot-needs-part', 'parentId', slot, { parentId: null, afterId: null }],
    ['not-a-part', 'parentId', slot, { parentId: 'first', afterId: null }],
    ['place-gone', 'parentId', slot, { parentId: 'gone', afterId: null }],
    ['place-gone', 'parentId', slot, { parentId: 'unknown', afterId: null }],
    ['place-gone', 'afterId', slot, { parentId: 'one', afterId: 'unknown' }],
    ['own-branch', 'parentId', moving('two'), { parentId: 'two', afterId: null }],
    ['own-branch', 'parentId', moving('two'), { parentId: 'deep', afterId: null }],
    ['bad-input', 'afterId', moving('second'), { parentId: 'one', afterId: 'second' }],
  ] as const)('refuses %s at %s', (code, field, who, place) => {
    expect(refusal(() => keyAt(ROWS, who, place))).toMatchObject({ code, fields: [field] });
  });
});

describe('placeBack', () => {
  it('puts a line back where it stood', () => {
    expect(placeBack(ROWS, moving('removed'))).toEqual({ parentId: 'one', orderKey: BETWEEN });
  });

  it('gives it a key of its own when a newer line has taken its key', () => {
    const { parentId, orderKey } = placeBack([...ROWS, row('newer', 'one', BETWEEN, 'slot')], moving('removed'));
    expect([parentId, orderKey > BETWEEN, orderKey < B]).toEqual(['one', true, true]);
  });

  it('lifts it to the nearest part still there, at the place of the part that is gone', () => {
    const rows = [
      row('film', null, A, 'part'), row('before', 'film', A, 'part'), row('lost', 'film', B, 'part', 'later'), row('after', 'film', C, 'part'),
      row('lost-inner', 'lost', A, 'part', 'later'), row('mine', 'lost-inner', A, 'slot', 'first'),
    ];
    const { parentId, orderKey } = placeBack(rows, rows.at(-1)!);
    expect([parentId, orderKey > B, orderKey < C]).toEqual(['film', true, true]);
  });

  it('lifts a part to the top level, but tells a slot which removal to undo first', () => {
    const lost = row('lost', null, A, 'part', 'later');
    const inner = row('inner', 'lost', A, 'part', 'first');
    expect(placeBack([lost, inner], inner).parentId).toBeNull();
    const mine = row('mine', 'lost', A, 'slot', 'first');
    expect(refusal(() => placeBack([lost, mine], mine))).toMatchObject({ code: 'slot-needs-part', more: { removalId: 'later' } });
  });
});

describe('checkRole', () => {
  it('lets parts open and close the film, and no slot', () => {
    for (const role of ['opening', 'body', 'closing', undefined] as const) checkRole('part', role);
    for (const role of ['body', undefined] as const) checkRole('slot', role);
    for (const role of ['opening', 'closing'] as const) expect(refusal(() => checkRole('slot', role))).toMatchObject({ code: 'bad-input', fields: ['role'] });
  });
});
