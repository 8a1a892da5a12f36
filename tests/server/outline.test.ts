import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import type { Item, NewItem, Place } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { startRig, type Answer, type Caller, type Person, type Rig } from '../fixtures/rig.ts';

let rig: Rig;
let director: Caller;
let editor: Caller;
beforeAll(async () => {
  rig = await startRig();
  director = rig.as('director');
  editor = rig.as('editor');
});
afterAll(() => rig?.close());
beforeEach(() => rig.db.item.deleteMany());

const TOP: Place = { parentId: null, afterId: null };
const inside = (parent: Item, after: Item | null = null): Place => ({ parentId: parent.id, afterId: after?.id ?? null });

async function make(kind: 'part' | 'slot', name: string, place: Place, rest: Partial<NewItem> = {}): Promise<Item> {
  const answer = await editor.post(rig.at('/items'), { kind, name, place, ...rest });
  expect(answer.status, JSON.stringify(answer.body)).toBe(201);
  return answer.body;
}
const move = (who: Caller, item: Item, place: Place): Promise<Answer> => who.post(rig.at(`/items/${item.id}/move`), place);
const undo = (who: Caller, removalId: string): Promise<Answer> => who.post(rig.at(`/removals/${removalId}/undo`));
/** The outline as people read it: "1 The crossing". */
const page = async (): Promise<string[]> => outlineOrder(await listItems(rig.db, rig.film)).map(({ label, row }) => `${label} ${row.name}`);
const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });
const fieldsOf = ({ body }: Answer): string[] => (body.fields ?? []).map(({ field }: { field: string }) => field);

describe('making lines', () => {
  it('puts parts and slots where they are wanted, as deep as wanted, with everything that is said of them', async () => {
    const opening = await make('part', 'Opening: low water', TOP, { role: 'opening', wish: { kind: 'fixed', frames: 480 } });
    const crossing = await make('part', 'The crossing', { parentId: null, afterId: opening.id });
    const causeway = await make('part', 'The causeway', inside(crossing));
    const wheels = await make('slot', 'Wheels in the wet', inside(causeway), { mustShow: 'spray', comesIn: 'from black', goesOut: 'to the left', wish: { kind: 'fixed', frames: 96 } });
    await make('slot', 'Walkers', inside(causeway));
    expect(await page()).toEqual(['1 Opening: low water', '2 The crossing', '2.1 The causeway', '2.1.1 Walkers', '2.1.2 Wheels in the wet']);
    expect(wheels).toMatchObject({ kind: 'slot', parentId: causeway.id, role: 'body', mustShow: 'spray', comesIn: 'from black', goesOut: 'to the left', wish: { kind: 'fixed', frames: 96 }, decisions: 0, removedAt: null, removalId: null });
    expect(opening).toMatchObject({ role: 'opening', wish: { kind: 'fixed', frames: 480 }, parentId: null });
  });

  it('tells everyone, whole', async () => {
    const part = await make('part', 'Market night', TOP);
    expect(await lastEvent()).toMatchObject({ kind: 'item.made', subject: part.id, actorId: editor.userId, rows: { items: [part] } });
  });

  it.each([
    ['a slot outside every part', { kind: 'slot', name: 'x', place: TOP }, 409, 'slot-needs-part', ['parentId']],
    ['a part that is nowhere', { kind: 'part', name: 'x', place: { parentId: 'nowhere', afterId: null } }, 409, 'place-gone', ['parentId']],
    ['a line that is nowhere', { kind: 'part', name: 'x', place: { parentId: null, afterId: 'nowhere' } }, 409, 'place-gone', ['afterId']],
    ['no place', { kind: 'part', name: 'x' }, 400, 'bad-input', ['place']],
    ['no name', { kind: 'part', place: TOP }, 400, 'bad-input', ['name']],
    ['a kind of line there is not', { kind: 'scene', name: 'x', place: TOP }, 400, 'bad-input', ['kind']],
    ['a length of nothing', { kind: 'part', name: 'x', place: TOP, wish: { kind: 'fixed', frames: 0 } }, 400, 'bad-input', []],
    ['a range that goes down', { kind: 'part', name: 'x', place: TOP, wish: { kind: 'range', min: 9, max: 8 } }, 400, 'bad-input', ['wish.min']],
    ['a range of one length', { kind: 'part', name: 'x', place: TOP, wish: { kind: 'range', min: 9, max: 9 } }, 400, 'bad-input', ['wish.min']],
    ['a share of more than the whole', { kind: 'part', name: 'x', place: TOP, wish: { kind: 'share', share: 10_001 } }, 400, 'bad-input', []],
    ['two wishes at once', { kind: 'part', name: 'x', place: TOP, wish: { kind: 'fixed', frames: 9, share: 9 } }, 400, 'bad-input', []],
    ['a place of no name', { kind: 'part', name: 'x', place: { parentId: '', afterId: null } }, 400, 'bad-input', ['place.parentId']],
    ['a field there is not', { kind: 'part', name: 'x', place: TOP, colour: 'red' }, 400, 'bad-input', ['colour']],
  ])('refuses %s', async (_, body, status, code, fields) => {
    const answer = await editor.post(rig.at('/items'), body);
    expect(answer).toMatchObject({ status, body: { code } });
    expect(fieldsOf(answer)).toEqual(expect.arrayContaining(fields));
    expect(await page()).toEqual([]);
  });

  it('refuses a slot with a role, and a line inside a slot', async () => {
    const part = await make('part', 'Closing: last ferry', TOP);
    const slot = await make('slot', 'The gangway', inside(part));
    expect(await editor.post(rig.at('/items'), { kind: 'slot', name: 'x', place: inside(part), role: 'closing' })).toMatchObject({ status: 400, body: { code: 'bad-input' } });
    expect(await editor.post(rig.at('/items'), { kind: 'slot', name: 'x', place: inside(slot) })).toMatchObject({ status: 409, body: { code: 'not-a-part' } });
  });
});

describe('changing lines', () => {
  it('changes what is given and nothing else, and takes a length away again', async () => {
    const part = await make('part', 'The crossing', TOP, { wish: { kind: 'fixed', frames: 100 } });
    const { body } = await editor.patch(rig.at(`/items/${part.id}`), { name: 'The crossing, again', role: 'closing' });
    expect(body).toEqual({ ...part, name: 'The crossing, again', role: 'closing' });
    for (const wish of [{ kind: 'range', min: 90, max: 110 }, { kind: 'share', share: 800 }, { kind: 'fixed', frames: 7 }, { kind: 'open' }])
      expect((await editor.patch(rig.at(`/items/${part.id}`), { wish })).body).toEqual({ ...body, wish });
    expect(await lastEvent()).toMatchObject({ kind: 'item.changed', subject: part.id });
  });

  it('keeps both when two people write in two fields of one line at once', async () => {
    const part = await make('part', 'Raking', TOP);
    await Promise.all([editor.patch(rig.at(`/items/${part.id}`), { name: 'Raking oysters' }), director.patch(rig.at(`/items/${part.id}`), { wish: { kind: 'fixed', frames: 240 } })]);
    expect(await listItems(rig.db, rig.film)).toMatchObject([{ name: 'Raking oysters', wish: { kind: 'fixed', frames: 240 } }]);
  });

  it('refuses a role on a slot, an empty change, an unknown line, and a line removed meanwhile', async () => {
    const part = await make('part', 'Sorting', TOP);
    const slot = await make('slot', 'Hands', inside(part));
    const change = (id: string, body: object) => editor.patch(rig.at(`/items/${id}`), body);
    expect(await change(slot.id, { role: 'opening' })).toMatchObject({ status: 400, body: { code: 'bad-input', fields: [{ field: 'role' }] } });
    expect(await change(slot.id, {})).toMatchObject({ status: 400, body: { code: 'bad-input' } });
    expect(await change('nobody', { name: 'x' })).toMatchObject({ status: 404, body: { code: 'not-found' } });
    const removal = (await editor.del(rig.at(`/items/${part.id}`))).body;
    expect(await change(slot.id, { name: 'x' })).toMatchObject({ status: 409, body: { code: 'removed-meanwhile', removalId: removal.removalId } });
  });
});

describe('moving lines', () => {
  it('takes a branch along, and finds the place between the neighbours', async () => {
    const one = await make('part', 'one', TOP);
    const two = await make('part', 'two', { parentId: null, afterId: one.id });
    const slot = await make('slot', 'slot', inside(one));
    expect((await move(editor, one, inside(two))).body).toMatchObject({ id: one.id, parentId: two.id });
    expect(await page()).toEqual(['1 two', '1.1 one', '1.1.1 slot']);
    expect((await move(editor, slot, inside(two, one))).status).toBe(200);
    expect(await page()).toEqual(['1 two', '1.1 one', '1.2 slot']);
    expect(await lastEvent()).toMatchObject({ kind: 'item.moved', subject: slot.id });
  });

  it('refuses a part in itself, a slot at the top, a place that is gone, and a line that is gone', async () => {
    const one = await make('part', 'one', TOP);
    const two = await make('part', 'two', inside(one));
    const slot = await make('slot', 'slot', inside(two));
    expect(await move(editor, one, inside(two))).toMatchObject({ status: 409, body: { code: 'own-branch' } });
    expect(await move(editor, slot, TOP)).toMatchObject({ status: 409, body: { code: 'slot-needs-part' } });
    expect(await move(editor, one, inside(slot))).toMatchObject({ status: 409, body: { code: 'not-a-part' } });
    const gone = await make('part', 'gone', TOP);
    await editor.del(rig.at(`/items/${gone.id}`));
    expect(await move(editor, slot, inside(gone))).toMatchObject({ status: 409, body: { code: 'place-gone' } });
    expect(await move(editor, gone, TOP)).toMatchObject({ status: 409, body: { code: 'removed-meanwhile' } });
    expect(await editor.post(rig.at('/items/nobody/move'), TOP)).toMatchObject({ status: 404 });
    expect(await page()).toEqual(['1 one', '1.1 two', '1.1.1 slot']);
  });

  it('keeps both moves of two people at once, also to the same place', async () => {
    const home = await make('part', 'home', TOP);
    const away = await make('part', 'away', { parentId: null, afterId: home.id });
    const slots: Item[] = [];
    for (let i = 0; i < 12; i++) slots.push(await make('slot', `slot ${i}`, inside(home, slots.at(-1))));
    const answers = await Promise.all(slots.map((slot, i) => move(i % 2 ? editor : director, slot, inside(away))));
    expect(answers.map(({ status }) => status)).toEqual(slots.map(() => 200));
    const items = await listItems(rig.db, rig.film);
    expect(items.filter(({ parentId }) => parentId === away.id).map(({ name }) => name).sort()).toEqual(slots.map(({ name }) => name).sort());
    expect(new Set(items.map(({ parentId, orderKey }) => `${parentId} ${orderKey}`)).size).toBe(items.length);
  });

  it('keeps a move after a line that somebody else moves away in the same moment', async () => {
    const home = await make('part', 'home', TOP);
    const away = await make('part', 'away', { parentId: null, afterId: home.id });
    const anchor = await make('slot', 'anchor', inside(home));
    const mine = await make('slot', 'mine', inside(away));
    const both = await Promise.all([move(editor, anchor, inside(away)), move(director, mine, inside(home, anchor))]);
    expect(both.map(({ status }) => status)).toEqual([200, 200]);
    expect(await page()).toEqual(['1 home', '1.1 mine', '2 away', '2.1 anchor']);
  });

  it('never makes a cycle: of two parts moved into each other, one stays', async () => {
    for (let round = 0; round < 10; round++) {
      await rig.db.item.deleteMany();
      const a = await make('part', 'a', TOP);
      const b = await make('part', 'b', TOP);
      const both = await Promise.all([move(editor, a, inside(b)), move(director, b, inside(a))]);
      expect(both.map(({ status }) => status).sort()).toEqual([200, 409]);
      expect(both.find(({ status }) => status === 409)?.body.code).toBe('own-branch');
      expect(await page()).toHaveLength(2);
    }
  });
});

describe('removing and undoing', () => {
  it('takes the whole branch as one removal, and one undo brings it all back where it was', async () => {
    const one = await make('part', 'one', TOP);
    const two = await make('part', 'two', { parentId: null, afterId: one.id });
    const inner = await make('part', 'inner', inside(one));
    await make('slot', 'slot', inside(inner));
    const before = await page();
    const removal = (await editor.del(rig.at(`/items/${one.id}`))).body;
    expect(removal.items.map(({ name }: Item) => name).sort()).toEqual(['inner', 'one', 'slot']);
    expect(new Set(removal.items.map(({ removalId }: Item) => removalId))).toEqual(new Set([removal.removalId]));
    expect(await page()).toEqual(['1 two']);
    expect(await lastEvent()).toMatchObject({ kind: 'item.removed', subject: one.id });
    await editor.patch(rig.at(`/items/${two.id}`), { name: 'two' });

    const back = await undo(director, removal.removalId);
    expect(back.status).toBe(200);
    expect(back.body.items.every(({ removedAt, removalId }: Item) => removedAt === null && removalId === null)).toBe(true);
    expect(await page()).toEqual(before);
    expect(await lastEvent()).toMatchObject({ kind: 'item.restored', subject: removal.removalId });
    expect(await undo(director, removal.removalId)).toMatchObject({ status: 404, body: { code: 'not-found' } });
    expect((await editor.del(rig.at(`/items/${one.id}`))).status).toBe(200);
    expect(await editor.del(rig.at(`/items/${one.id}`))).toMatchObject({ status: 409, body: { code: 'removed-meanwhile' } });
  });

  it('leaves a line that was removed before out of a later undo', async () => {
    const part = await make('part', 'part', TOP);
    const slot = await make('slot', 'slot', inside(part));
    const first = (await editor.del(rig.at(`/items/${slot.id}`))).body;
    const second = (await editor.del(rig.at(`/items/${part.id}`))).body;
    expect(await undo(editor, first.removalId)).toMatchObject({ status: 409, body: { code: 'slot-needs-part', removalId: second.removalId } });
    await undo(editor, second.removalId);
    expect(await page()).toEqual(['1 part']);
    expect((await undo(editor, first.removalId)).status).toBe(200);
    expect(await page()).toEqual(['1 part', '1.1 slot']);
  });

  it('brings a line back to the nearest part still there, or to the top level', async () => {
    const film = await make('part', 'film', TOP);
    const middle = await make('part', 'middle', inside(film));
    const slot = await make('slot', 'slot', inside(middle));
    const part = await make('part', 'part', inside(middle, slot));
    const slotGone = (await editor.del(rig.at(`/items/${slot.id}`))).body;
    const partGone = (await editor.del(rig.at(`/items/${part.id}`))).body;
    await editor.del(rig.at(`/items/${middle.id}`));
    await undo(editor, slotGone.removalId);
    expect(await page()).toEqual(['1 film', '1.1 slot']);
    await editor.del(rig.at(`/items/${film.id}`));
    await undo(editor, partGone.removalId);
    expect(await page()).toEqual(['1 part']);
  });

  it('keeps both when a part is removed while somebody puts a slot into it: the slot is refused, or goes along', async () => {
    for (let round = 0; round < 10; round++) {
      await rig.db.item.deleteMany();
      const part = await make('part', 'part', TOP);
      const [removed, made] = await Promise.all([editor.del(rig.at(`/items/${part.id}`)), director.post(rig.at('/items'), { kind: 'slot', name: 'slot', place: inside(part) })]);
      expect(removed.status).toBe(200);
      if (made.status === 201) expect(removed.body.items).toHaveLength(2);
      else expect(made).toMatchObject({ status: 409, body: { code: 'place-gone' } });
      expect(await page()).toEqual([]);
    }
  });

  it('refuses an unknown line', async () => {
    expect(await editor.del(rig.at('/items/nobody'))).toMatchObject({ status: 404, body: { code: 'not-found' } });
    expect(await undo(editor, 'nothing')).toMatchObject({ status: 404, body: { code: 'not-found' } });
  });
});

describe('who may', () => {
  const EDITORS: Person[] = ['director', 'editor'];
  const refused: [Person, number][] = [['assistant', 403], ['field', 403], ['viewer', 403], ['stranger', 404], ['nobody', 401]];

  it.each(refused)('%s changes nothing (%i)', async (person, status) => {
    const part = await make('part', 'part', TOP);
    const removal = (await editor.del(rig.at(`/items/${(await make('part', 'gone', TOP)).id}`))).body;
    const who = rig.as(person);
    const answers = [
      await who.post(rig.at('/items'), { kind: 'part', name: 'x', place: TOP }),
      await who.patch(rig.at(`/items/${part.id}`), { name: 'x' }),
      await move(who, part, TOP),
      await who.del(rig.at(`/items/${part.id}`)),
      await undo(who, removal.removalId),
    ];
    expect(answers.map((answer) => answer.status)).toEqual(answers.map(() => status));
    expect(await page()).toEqual(['1 part']);
  });

  it.each(EDITORS)('%s changes everything', async (person) => {
    const who = rig.as(person);
    const part = (await who.post(rig.at('/items'), { kind: 'part', name: 'x', place: TOP })).body as Item;
    expect((await who.patch(rig.at(`/items/${part.id}`), { name: 'y' })).status).toBe(200);
    expect((await move(who, part, TOP)).status).toBe(200);
    const removal = await who.del(rig.at(`/items/${part.id}`));
    expect((await undo(who, removal.body.removalId)).status).toBe(200);
  });

  it('does not reach into another film', async () => {
    const other = await rig.db.film.create({ data: { title: 'Another (test)', rateNum: 25, rateDen: 1, targetFrames: 100 } });
    const theirs = await rig.db.item.create({ data: { filmId: other.id, kind: 'part', name: 'theirs', orderKey: '50' } });
    expect((await editor.patch(rig.at(`/items/${theirs.id}`), { name: 'x' })).status).toBe(404);
    expect((await editor.post(rig.at(`/items/${theirs.id}/move`), TOP)).status).toBe(404);
    expect((await editor.del(rig.at(`/items/${theirs.id}`))).status).toBe(404);
    expect(await editor.post(rig.at('/items'), { kind: 'slot', name: 'x', place: { parentId: theirs.id, afterId: null } })).toMatchObject({ status: 409, body: { code: 'place-gone' } });
  });
});
