import { describe, expect, it } from 'vitest';
import { budgetOf } from '../../server/core/budget.ts';
import { outlineOrder } from '../../server/core/outline.ts';
import { rate } from '../../server/core/rate.ts';
import { checkShape, type Remark, type ShapeRow, type ShapeRules } from '../../server/core/shape-check.ts';

const pal = rate(25);
const RULES: ShapeRules = { runningTime: 1000, closingShare: 800, shortestShot: 12 };

let order = 0;
const row = (id: string, parentId: string | null, more: Partial<ShapeRow> = {}): ShapeRow => ({
  id,
  parentId,
  kind: parentId === null ? 'part' : 'slot',
  fitted: null,
  orderKey: `${(order += 1)}`.padStart(4, '0'),
  wish: { kind: 'open' },
  role: 'body',
  mustShow: parentId === null ? '' : 'something',
  comesIn: parentId === null ? '' : 'from the left',
  goesOut: '',
  ...more,
});
/** A film with nothing to be said of it: five slots of 200 frames each. */
const whole = (): ShapeRow[] => [
  row('low', null, { role: 'opening' }),
  row('mud', 'low'),
  row('bell', 'low'),
  row('crossing', null),
  row('wheel', 'crossing'),
  row('tide', 'crossing'),
  row('ferry', null, { role: 'closing' }),
  row('wake', 'ferry'),
];
const check = (rows: readonly ShapeRow[], rules: Partial<ShapeRules> = {}): Remark[] => {
  const lines = outlineOrder(rows);
  const all = { ...RULES, ...rules };
  return checkShape(lines, budgetOf(lines, all.runningTime, pal), all);
};
const change = (id: string, more: Partial<ShapeRow>, rows = whole()) => rows.map((one) => (one.id === id ? { ...one, ...more } : one));
const fixed = (frames: number): Partial<ShapeRow> => ({ wish: { kind: 'fixed', frames } });

describe('the shape check', () => {
  it('says nothing of a film that is whole, nor of an empty one', () => {
    expect(check(whole())).toEqual([]);
    expect(check([])).toEqual([]);
  });

  // Worked by hand: 8 % of 1000 frames are 80.
  it.each<[string, ShapeRow[], Partial<ShapeRules>, object[]]>([
    ['no opening', change('low', { role: 'body' }), {}, [{ id: null, kind: 'no-opening' }]],
    ['no closing', change('ferry', { role: 'body' }), {}, [{ id: null, kind: 'no-closing' }]],
    ['an opening that is not at the top is none', change('low', { role: 'body' }, [...whole(), row('inner', 'crossing', { kind: 'part', role: 'opening' }), row('gull', 'inner')]), {}, [{ id: null, kind: 'no-opening' }]],
    ['an ending that stops dead', change('ferry', { ...fixed(79), role: 'closing' }), {}, [{ id: null, kind: 'stops-dead', frames: 79, least: 80 }]],
    ['not one of just enough', change('ferry', { ...fixed(80), role: 'closing' }), {}, []],
    ['what the film sets', change('ferry', { ...fixed(80), role: 'closing' }), { closingShare: 801 }, [{ id: null, kind: 'stops-dead', frames: 80, least: 81 }]],
    ['a part with nothing in it', [...whole(), row('empty', null)], {}, [{ id: 'empty', kind: 'nothing-inside' }]],
    ['a slot that does not say what it shows', change('wheel', { mustShow: '  ' }), {}, [{ id: 'wheel', kind: 'shows-nothing' }]],
    ['neighbours with no word between them, across parts', change('wheel', { comesIn: '' }), {}, [{ id: 'bell', kind: 'no-way-over', nextId: 'wheel' }]],
    ['one word is enough', change('bell', { goesOut: 'on the bell' }, change('wheel', { comesIn: '' })), {}, []],
    ['more slots than the running time carries', whole(), { runningTime: 59 }, [{ id: null, kind: 'too-many-slots', slots: 5, need: 60 }]],
    ['just as many', whole(), { runningTime: 60 }, []],
  ])('says %s', (_, rows, rules, expected) => {
    // A closing of 80 frames is far from the rest as well, which is looked at below.
    const said = check(rows, rules).filter(({ kind }) => kind !== 'far-from-rest');
    expect(said).toMatchObject(expected);
    expect(said).toHaveLength(expected.length);
  });

  it('says how far a length is from the rest, and the long one does not hide itself', () => {
    // 1000 frames: 100, 110, 120, 130 are asked for, 540 remain. Median 120; deviations 20, 10, 0, 10, 420; their median
    // 10; times 1.4826 that is 14.826, and 420 ÷ 14.826 = 28.3.
    const rows = [['mud', 100], ['bell', 110], ['wheel', 120], ['tide', 130]].reduce((all, [id, frames]) => change(id as string, fixed(frames as number), all), whole());
    expect(check(rows)).toMatchObject([{ id: 'wake', kind: 'far-from-rest', frames: 540, median: 120, times: 28.3 }]);
  });

  it('does not call a frame more or less far: five slots of 200 and 201 frames', () => {
    expect(check(whole(), { runningTime: 1003 })).toEqual([]);
  });

  it('gives a remark another key when its facts change, and the same one while they do not', () => {
    const keys = (rows: ShapeRow[]) => check(rows).map(({ key }) => key);
    const short = (frames: number) => change('ferry', { ...fixed(frames), role: 'closing' });
    expect(keys(short(70))).toEqual(keys(short(70)));
    expect(keys(short(70))).not.toEqual(keys(short(71)));
    expect(keys(change('wheel', { mustShow: '' }))).toEqual(keys(change('wheel', { mustShow: '', comesIn: 'another way' })));
  });
});
