import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { readOutline } from '../../server/core/outline-text.ts';
import { outlineOrder } from '../../server/core/outline.ts';
import { rate } from '../../server/core/rate.ts';
import type { Item, Place, WholeLine } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { startRig, type Caller, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let editor: Caller;
beforeAll(async () => {
  rig = await startRig();
  editor = rig.as('editor');
});
afterAll(() => rig?.close());
beforeEach(() => rig.db.item.deleteMany());

const TOP: Place = { parentId: null, afterId: null };
const line = (depth: number, kind: 'part' | 'slot', name: string, rest: Partial<WholeLine> = {}): WholeLine => ({ depth, kind, name, role: 'body', wish: { kind: 'open' }, mustShow: '', comesIn: '', goesOut: '', ...rest });
const paste = (lines: readonly WholeLine[], place = TOP) => editor.post(rig.at('/items/paste'), { place, lines });
const page = async (): Promise<string[]> => outlineOrder(await listItems(rig.db, rig.film)).map(({ label, row }) => `${label} ${row.name}`);
const events = () => rig.db.event.count({ where: { filmId: rig.film } });
const FERRY = [line(0, 'part', 'Opening', { role: 'opening' }), line(1, 'slot', 'Bell', { wish: { kind: 'fixed', frames: 96 }, mustShow: 'the bell\nmoving' }), line(0, 'part', 'Crossing'), line(1, 'part', 'Wheels'), line(2, 'slot', 'Spray')];

describe('putting in a whole outline', () => {
  it('makes the tree at its place, as one event with every row', async () => {
    const before = (await paste([line(0, 'part', 'first'), line(0, 'part', 'last')])).body.items as Item[];
    const count = await events();
    const { status, body } = await paste(FERRY, { parentId: null, afterId: before[0]!.id });
    expect(status).toBe(201);
    expect(await page()).toEqual(['1 first', '2 Opening', '2.1 Bell', '3 Crossing', '3.1 Wheels', '3.1.1 Spray', '4 last']);
    expect(body.items.map(({ name }: Item) => name)).toEqual(FERRY.map(({ name }) => name));
    expect(body.items[1]).toMatchObject({ wish: { kind: 'fixed', frames: 96 }, mustShow: 'the bell\nmoving', removedAt: null });
    expect(await events()).toBe(count + 1);
    expect(await rig.db.event.findFirst({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } })).toMatchObject({ kind: 'item.pasted', subject: body.items[0].id, actorId: editor.userId, rows: { items: body.items } });
  });

  it('puts slots into a part, between those that are there', async () => {
    const [part, a] = (await paste([line(0, 'part', 'Crossing'), line(1, 'slot', 'a'), line(1, 'slot', 'b')])).body.items;
    expect((await paste([line(0, 'slot', 'x'), line(0, 'part', 'y'), line(1, 'slot', 'z')], { parentId: part.id, afterId: a.id })).status).toBe(201);
    expect(await page()).toEqual(['1 Crossing', '1.1 a', '1.2 x', '1.3 y', '1.3.1 z', '1.4 b']);
  });

  it('takes 5,000 lines in one write, in their order', async () => {
    const many = Array.from({ length: 5000 }, (_, i) => line(Math.min(i % 4, 2), i % 4 === 3 || i % 4 === 2 ? 'slot' : 'part', `line ${i}`));
    expect((await paste(many)).status).toBe(201);
    expect((await page()).map((text) => text.replace(/^\S+ /, ''))).toEqual(many.map(({ name }) => name));
  });

  it('takes what was read from a text as it is', async () => {
    const text = readFileSync(new URL('../fixtures/outlines/30-mixed-everything.md', import.meta.url), 'utf8');
    const { lines } = readOutline(text, rate(24000, 1001));
    expect((await paste(lines)).status).toBe(201);
    expect(await page()).toHaveLength(lines.length);
  });

  it.each<[string, WholeLine[], string, string]>([
    ['nothing', [], 'bad-input', 'lines'],
    ['a first line inside something', [line(1, 'part', 'x')], 'bad-input', 'lines.0.depth'],
    ['a line two levels deeper', [line(0, 'part', 'x'), line(2, 'slot', 'y')], 'bad-input', 'lines.1.depth'],
    ['a line inside a slot', [line(0, 'part', 'x'), line(1, 'slot', 'y'), line(2, 'slot', 'z')], 'bad-input', 'lines.2.depth'],
    ['a slot with a role', [line(0, 'part', 'x'), line(1, 'slot', 'y', { role: 'opening' })], 'bad-input', 'lines.1.role'],
    ['a slot at the top', [line(0, 'slot', 'x')], 'slot-needs-part', 'parentId'],
    ['a range the wrong way round', [line(0, 'part', 'x', { wish: { kind: 'range', min: 9, max: 3 } })], 'bad-input', 'lines.0.wish'],
    ['a name that is too long', [line(0, 'part', 'n'.repeat(301))], 'bad-input', 'lines.0.name'],
    ['a control character', [line(0, 'part', 'a\u0000b')], 'bad-input', 'lines.0.name'],
    ['21 levels', Array.from({ length: 21 }, (_, i) => line(i, 'part', 'x')), 'bad-input', 'lines.20.depth'],
    ['5,001 lines', Array.from({ length: 5001 }, () => line(0, 'part', 'x')), 'bad-input', 'lines'],
  ])('refuses %s, and writes nothing of it', async (_, lines, code, field) => {
    const count = await events();
    const { body } = await paste(lines);
    expect([body.code, body.fields?.map((fault: { field: string }) => fault.field)]).toEqual([code, expect.arrayContaining([field])]);
    expect(await page()).toEqual([]);
    expect(await events()).toBe(count);
  });

  it('refuses a place that is gone', async () => {
    expect((await paste(FERRY, { parentId: null, afterId: 'nowhere' })).body.code).toBe('place-gone');
    expect((await paste(FERRY, { parentId: 'nowhere', afterId: null })).body.code).toBe('place-gone');
  });
});

describe('taking it back', () => {
  const tops = (items: Item[]) => items.filter(({ parentId }) => parentId === null).map(({ id }) => id);

  it('takes all of it away as one removal, also what was added inside, and brings all back where it stood', async () => {
    const [first] = (await paste([line(0, 'part', 'first'), line(0, 'part', 'last')])).body.items;
    const { items } = (await paste(FERRY, { parentId: null, afterId: first.id })).body;
    await editor.post(rig.at('/items'), { kind: 'slot', name: 'added', place: { parentId: items[0].id, afterId: null } });
    const whole = await page();
    const removal = await editor.post(rig.at('/removals'), { items: tops(items) });
    expect(removal.status).toBe(201);
    expect(removal.body.items).toHaveLength(6);
    expect(await page()).toEqual(['1 first', '2 last']);
    expect((await editor.post(rig.at(`/removals/${removal.body.removalId}/undo`))).status).toBe(200);
    expect(await page()).toEqual(whole);
  });

  it('counts a line once that is named together with the part it is in', async () => {
    const { items } = (await paste(FERRY)).body;
    const removal = await editor.post(rig.at('/removals'), { items: items.map(({ id }: Item) => id) });
    expect(removal.body.items).toHaveLength(FERRY.length);
    await editor.post(rig.at(`/removals/${removal.body.removalId}/undo`));
    expect(await page()).toHaveLength(FERRY.length);
  });

  it('refuses all of it when one of them is gone or unknown', async () => {
    const { items } = (await paste(FERRY)).body;
    await editor.del(rig.at(`/items/${items[0].id}`));
    expect((await editor.post(rig.at('/removals'), { items: tops(items) })).body.code).toBe('removed-meanwhile');
    expect((await editor.post(rig.at('/removals'), { items: [items[2].id, 'nobody'] })).body.code).toBe('not-found');
    expect((await editor.post(rig.at('/removals'), { items: [] })).body.code).toBe('bad-input');
    expect(await page()).toEqual(['1 Crossing', '1.1 Wheels', '1.1.1 Spray']);
  });
});
