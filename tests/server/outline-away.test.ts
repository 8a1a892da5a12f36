import { randomUUID } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Item, Place } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { startRig, type Caller, type Rig } from '../fixtures/rig.ts';

// What the outline does with changes that come late or twice, because the link was away.
let rig: Rig;
let editor: Caller;
let director: Caller;
beforeAll(async () => {
  rig = await startRig();
  [editor, director] = [rig.as('editor'), rig.as('director')];
});
afterAll(() => rig?.close());
beforeEach(() => rig.db.item.deleteMany());

const TOP: Place = { parentId: null, afterId: null };
const make = async (name: string, rest: object = {}): Promise<Item> => (await editor.post(rig.at('/items'), { kind: 'part', name, place: TOP, ...rest })).body;
const change = (who: Caller, item: Item, body: object) => who.patch(rig.at(`/items/${item.id}`), body);
const seqNow = async (): Promise<number> => (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq;

describe('asked twice', () => {
  /** What the page calls a change. */
  const called = () => ({ 'x-rushlight-change': randomUUID() });

  it('a change is made once, and both answers are the same, with the number of its event', async () => {
    const [id, once] = [randomUUID(), called()];
    const ask = () => editor.post(rig.at('/items'), { id, kind: 'part', name: 'Boots', place: TOP }, once);
    const first = await ask();
    expect([first.status, first.body.id, first.headers.get('x-rushlight-event')]).toEqual([201, id, String(await seqNow())]);
    await director.patch(rig.at(`/items/${id}`), { name: 'Wet boots' });
    const seq = await seqNow();
    const second = await ask();
    expect([second.status, second.body, second.headers.get('x-rushlight-event')]).toEqual([201, first.body, String(seq - 1)]);
    expect(await seqNow()).toBe(seq);
    expect(await listItems(rig.db, rig.film)).toMatchObject([{ name: 'Wet boots' }]);
  });

  it('words are not written twice, though somebody else has written in them since', async () => {
    const item = await make('low water');
    const once = called();
    const ask = () => editor.patch(rig.at(`/items/${item.id}`), { name: 'low water at dawn', was: { name: 'low water' } }, once);
    await ask();
    await change(director, item, { name: 'very low water at dawn', was: { name: 'low water at dawn' } });
    expect((await ask()).status).toBe(200);
    expect(await listItems(rig.db, rig.film)).toMatchObject([{ name: 'very low water at dawn' }]);
  });

  it('a removal is made once, and so is its undoing, though both would be refused by now', async () => {
    const item = await make('Boots');
    const removal = randomUUID();
    const [gone, back] = [called(), called()];
    const remove = () => editor.post(rig.at('/removals'), { items: [item.id], removal }, gone);
    const undo = () => editor.post(rig.at(`/removals/${removal}/undo`), undefined, back);
    for (const ask of [remove, remove]) expect((await ask()).body).toMatchObject({ removalId: removal, items: [{ id: item.id }] });
    for (const ask of [undo, undo]) expect((await ask()).body).toMatchObject({ removalId: removal, items: [{ id: item.id, removedAt: null }] });
    expect((await remove()).status).toBe(201);
    expect(await listItems(rig.db, rig.film)).toHaveLength(1);
  });

  it('both at the same moment, it is made once', async () => {
    const once = called();
    const id = randomUUID();
    const answers = await Promise.all([1, 2, 3].map(() => editor.post(rig.at('/items'), { id, kind: 'part', name: 'Boots', place: TOP }, once)));
    expect(answers.map(({ status }) => status)).toEqual([201, 201, 201]);
    expect(await listItems(rig.db, rig.film)).toHaveLength(1);
  });

  it('with the id of another line, nothing is made and nothing told of it', async () => {
    const other = await rig.db.film.create({ data: { title: 'Other', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const { id } = await rig.db.item.create({ data: { id: randomUUID(), filmId: other.id, kind: 'part', name: 'secret', orderKey: '0' } });
    expect(await make('x', { id })).toMatchObject({ code: 'bad-input', detail: 'This id is taken.' });
    expect(await make('x', { id: 'mine' })).toMatchObject({ code: 'bad-input' });
  });
});

describe('two in one text', () => {
  it('both stay, whether they wrote beside or over each other', async () => {
    const item = await make('low water');
    await change(director, item, { name: 'very low water', was: { name: 'low water' } });
    expect((await change(editor, item, { name: 'low water at dawn', was: { name: 'low water' } })).body.name).toBe('very low water at dawn');
    await change(director, item, { mustShow: 'mud', was: { mustShow: '' } });
    expect((await change(editor, item, { mustShow: 'sky', was: { mustShow: '' } })).body.mustShow).toBe('mud sky');
    await change(director, item, { name: 'Ebb' });
    expect((await change(editor, item, { name: 'Flood', was: { name: 'very low water at dawn' } })).body.name).toBe('Ebb / Flood');
  });

  it('of names too long for one line the second goes to what must be shown; texts too long for that are refused', async () => {
    const item = await make('a');
    const [theirs, mine] = ['t'.repeat(200), 'm'.repeat(200)];
    await change(director, item, { name: theirs });
    expect((await change(editor, item, { name: mine, was: { name: 'a' } })).body).toMatchObject({ name: theirs, mustShow: mine });
    await change(director, item, { goesOut: 't'.repeat(1500) });
    expect((await change(editor, item, { goesOut: 'm'.repeat(1500), was: { goesOut: 'b' } })).body).toMatchObject({ code: 'bad-input', fields: [{ field: 'goesOut' }] });
  });
});

describe('taking away', () => {
  const seen = ({ id, name, mustShow, comesIn, goesOut, wish }: Item) => ({ id, name, mustShow, comesIn, goesOut, wish });
  const inside = (part: Item, name: string): Promise<Item> => make(name, { kind: 'slot', place: { parentId: part.id, afterId: null } });
  const remove = (top: Item, saw: Item[]) => editor.post(rig.at('/removals'), { items: [top.id], saw: saw.map(seen) });
  const standing = async () => (await listItems(rig.db, rig.film)).map(({ name }) => name).sort();

  it('takes what the person saw', async () => {
    const part = await make('The crossing');
    const slot = await inside(part, 'Wheels');
    expect((await remove(part, [slot, part])).status).toBe(201);
    expect(await standing()).toEqual([]);
  });

  it.each([
    ['a name', { name: 'Wheels in the wet' }],
    ['what a slot must show', { mustShow: 'spray' }],
    ['how it comes in', { comesIn: 'out of black' }],
    ['how it goes out', { goesOut: 'on the bell' }],
    ['a length', { wish: { kind: 'fixed', frames: 48 } }],
  ])('takes nothing when %s was changed meanwhile, be it by the same person at another desk', async (_, body) => {
    const part = await make('The crossing');
    const slot = await inside(part, 'Wheels');
    const now = (await change(editor, slot, body)).body;
    expect((await remove(part, [part, slot])).body).toMatchObject({ code: 'changed-meanwhile', detail: `Somebody changed “${now.name}” in the meantime, so nothing was removed.` });
    expect(await standing()).toEqual(['The crossing', now.name].sort());
    expect((await remove(part, [part, now])).status).toBe(201);
  });

  it('takes nothing when something is in it that was not there, made or moved or never moved out', async () => {
    const [part, other] = [await make('The crossing'), await make('Market night')];
    const slot = await inside(other, 'Wheels');
    await editor.post(rig.at(`/items/${slot.id}/move`), { parentId: part.id, afterId: null });
    expect((await remove(part, [part])).body).toMatchObject({ code: 'changed-meanwhile', detail: 'Nothing was removed: “Wheels” is in it by now, which was not there when you removed it.' });
    expect(await standing()).toEqual(['Market night', 'The crossing', 'Wheels']);
  });

  it('takes what is left of it when some went elsewhere meanwhile', async () => {
    const [part, other] = [await make('The crossing'), await make('Market night')];
    const slot = await inside(part, 'Wheels');
    await director.post(rig.at(`/items/${slot.id}/move`), { parentId: other.id, afterId: null });
    expect((await remove(part, [part, slot])).status).toBe(201);
    expect(await standing()).toEqual(['Market night', 'Wheels']);
  });
});
