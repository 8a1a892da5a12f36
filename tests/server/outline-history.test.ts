import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { outlineOrder } from '../../server/core/outline.ts';
import type { Item, PastMoment, PastPage, PastState, Place } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';
import { startRig, type Caller, type Rig } from '../fixtures/rig.ts';
import { addSelect } from '../fixtures/slots.ts';

let rig: Rig;
let editor: Caller;
let director: Caller;
beforeAll(async () => {
  rig = await startRig();
  [editor, director] = [rig.as('editor'), rig.as('director')];
});
afterAll(() => rig?.close());
beforeEach(async () => {
  await rig.db.item.deleteMany();
  await rig.db.event.deleteMany();
  await rig.db.outlineState.deleteMany();
});

const TOP: Place = { parentId: null, afterId: null };
const make = async (kind: 'part' | 'slot', name: string, place: Place, rest: object = {}): Promise<Item> => (await editor.post(rig.at('/items'), { kind, name, place, ...rest })).body;
const written = (items: readonly Item[]): string[] => outlineOrder(items).map(({ label, row }) => `${label} ${row.name} ${row.wish.kind === 'fixed' ? row.wish.frames : ''}`.trim());
const page = async (): Promise<string[]> => written(await listItems(rig.db, rig.film));
const seqNow = async (): Promise<number> => (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq;
const at = async (seq: number): Promise<string[]> => written(((await editor.get(rig.at(`/outline/at/${seq}`))).body as PastState).items);
const bringBack = (seq: number, who = editor) => who.post(rig.at(`/outline/at/${seq}/bring-back`));
const pageOf = async (before?: number): Promise<PastPage> => (await editor.get(rig.at(`/outline/history${before === undefined ? '' : `?before=${before}`}`))).body;
const history = async (): Promise<PastMoment[]> => (await pageOf()).moments;
const takeBack = (seq: number, who = editor) => who.post(rig.at(`/outline/at/${seq}/take-back`));

describe('earlier states', () => {
  it('are all there: 120 random changes, each state as the page had it then, and each can be brought back', async () => {
    const random = randomFrom(7);
    const states: [number, string[]][] = [[await seqNow(), []]];
    for (let i = 0; i < 120; i++) {
      const items = await listItems(rig.db, rig.film);
      const parts = items.filter(({ kind }) => kind === 'part');
      const place = parts.length > 0 && random() < 0.8 ? { parentId: oneOf(random, parts).id, afterId: null } : TOP;
      const item = items.length > 0 ? oneOf(random, items) : null;
      const turn = random();
      if (!item || turn < 0.45) await make(place.parentId === null || random() < 0.4 ? 'part' : 'slot', `line ${i}`, place);
      else if (turn < 0.65) await editor.patch(rig.at(`/items/${item.id}`), { name: `renamed ${i}`, wish: { kind: 'fixed', frames: 1 + i } });
      else if (turn < 0.85) await editor.post(rig.at(`/items/${item.id}/move`), place);
      else await editor.del(rig.at(`/items/${item.id}`));
      states.push([await seqNow(), await page()]);
    }
    for (const [seq, expected] of states) expect(await at(seq), `state ${seq}`).toEqual(expected);
    for (let i = 0; i < 25; i++) {
      const [seq, expected] = oneOf(random, states);
      expect([200, 409]).toContain((await bringBack(seq)).status);
      expect(await page(), `brought back ${seq}`).toEqual(expected);
    }
  });

  it('refuses one that is still to come, and what is no number', async () => {
    const next = (await seqNow()) + 1;
    expect((await editor.get(rig.at(`/outline/at/${next}`))).body.code).toBe('not-found');
    expect((await bringBack(next)).body.code).toBe('not-found');
    expect((await editor.get(rig.at('/outline/at/soon'))).body.code).toBe('bad-input');
  });
});

describe('bringing one back', () => {
  it('is one change with every row, keeps verdicts counted, and is undone as one', async () => {
    const part = await make('part', 'Crossing', TOP);
    const slot = await make('slot', 'Wheels', { parentId: part.id, afterId: null });
    const then = await seqNow();
    await editor.patch(rig.at(`/items/${slot.id}`), { name: 'Wheels in the wet' });
    await make('slot', 'Driver', { parentId: part.id, afterId: null });
    await rig.db.item.update({ where: { id: slot.id }, data: { decisions: 3 } });
    const whole = await page();
    const before = await seqNow();
    const { body, headers } = await bringBack(then);
    expect(headers.get('x-rushlight-event')).toBe(String(before + 1));
    expect(await seqNow()).toBe(before + 1);
    expect(await page()).toEqual(['1 Crossing', '1.1 Wheels']);
    expect(body.items.find(({ id }: Item) => id === slot.id).decisions).toBe(3);
    expect(await rig.db.event.findFirst({ orderBy: { seq: 'desc' } })).toMatchObject({ kind: 'outline.brought-back', subject: String(then), rows: { items: body.items } });
    expect((await bringBack(then)).body.code).toBe('as-it-is');
    expect((await takeBack(before + 1)).body.kept).toEqual([]);
    expect(await page()).toEqual(whole);
    expect((await rig.db.item.findUniqueOrThrow({ where: { id: slot.id } })).decisions).toBe(3);
    // And done again, which is taking the taking back back.
    expect((await takeBack(before + 2)).status).toBe(200);
    expect(await page()).toEqual(['1 Crossing', '1.1 Wheels']);
  });

  it('is undone without what somebody else changed since, which is told by name', async () => {
    const part = await make('part', 'Crossing', TOP);
    const slot = await make('slot', 'Wheels', { parentId: part.id, afterId: null });
    const then = await seqNow();
    await editor.patch(rig.at(`/items/${slot.id}`), { name: 'Wheels in the wet' });
    const late = await make('slot', 'Driver', { parentId: part.id, afterId: slot.id });
    await bringBack(then);
    const brought = await seqNow();
    await director.patch(rig.at(`/items/${slot.id}`), { name: 'Wheels at dawn', mustShow: 'spray' });
    const theirs = await director.post(rig.at('/items'), { kind: 'part', name: 'Market night', place: { parentId: null, afterId: part.id } });
    const { body } = await takeBack(brought);
    expect([body.items.map(({ id }: Item) => id), body.kept.map(({ name }: Item) => name)]).toEqual([[late.id], ['Wheels at dawn']]);
    expect(await page()).toEqual(['1 Crossing', '1.1 Wheels at dawn', '1.2 Driver', '2 Market night']);
    expect(theirs.status).toBe(201);
  });

  it('is refused its undoing where nothing is left of it, and where there was no bringing back', async () => {
    const part = await make('part', 'Crossing', TOP);
    const then = await seqNow();
    await editor.patch(rig.at(`/items/${part.id}`), { name: 'The crossing' });
    await bringBack(then);
    const brought = await seqNow();
    await director.patch(rig.at(`/items/${part.id}`), { name: 'Causeway' });
    expect((await takeBack(brought)).body.code).toBe('changed-meanwhile');
    expect((await takeBack(then)).body.code).toBe('not-found');
    expect((await takeBack(brought, rig.as('viewer'))).status).toBe(403);
    expect(await page()).toEqual(['1 Causeway']);
  });

  it('keeps the pick of a slot that goes, for when it comes back', async () => {
    const empty = await seqNow();
    const part = await make('part', 'Crossing', TOP);
    const { id: slotId } = await make('slot', 'Wheels', { parentId: part.id, afterId: null });
    const offered = await editor.post(rig.at('/offers'), { slotId, selectId: (await addSelect(rig)).id });
    expect(offered.status, JSON.stringify(offered.body)).toBe(201);
    const offerId = (offered.body as { id: string }).id;
    expect((await bringBack(empty)).status).toBe(200);
    expect(await page()).toEqual([]);
    expect((await bringBack((await seqNow()) - 1)).status).toBe(200);
    expect(await rig.db.offer.findUnique({ where: { id: offerId } })).toMatchObject({ slotId, removedAt: null });
    expect((await listItems(rig.db, rig.film)).map(({ id }) => id)).toContain(slotId);
  });
});

describe('moments', () => {
  it('are told by person and pause, newest first, with what was done', async () => {
    const part = await make('part', 'Crossing', TOP);
    const slot = await make('slot', 'Wheels', { parentId: part.id, afterId: null });
    await director.patch(rig.at(`/items/${slot.id}`), { name: 'Wheels in the wet', wish: { kind: 'fixed', frames: 96 } });
    await rig.db.$executeRaw`UPDATE event SET at = at - interval '1 hour' WHERE film_id = ${rig.film}`;
    await director.del(rig.at(`/items/${slot.id}`));
    expect((await history()).map(({ actorId, counts, names }) => [actorId, Object.fromEntries(Object.entries(counts).filter(([, n]) => n > 0)), names])).toEqual([
      [director.userId, { removed: 1 }, ['Wheels in the wet']],
      [director.userId, { renamed: 1, length: 1 }, ['Wheels in the wet']],
      [editor.userId, { added: 2 }, ['Crossing', 'Wheels']],
    ]);
  });

  it('come a page at a time, none cut in two and none twice, with every named state on each page', async () => {
    const slot = await make('slot', 'Wheels', { parentId: (await make('part', 'Crossing', TOP)).id, afterId: null });
    const first = await seqNow();
    await editor.put(rig.at(`/outline/at/${first}/name`), { name: 'First pitch' });
    // 70 moments of two people in turn, of 10 to 24 changes each: more than one page, and more events than are read at once.
    const counts = Array.from({ length: 70 }, (_, i) => 10 + ((i * 7) % 15));
    const told = counts.flatMap((count, moment) => Array.from({ length: count }, (_, n) => ({ actorId: (moment % 2 ? director : editor).userId, item: { ...slot, name: `moment ${moment}, ${n}` } })));
    const before = await seqNow();
    await rig.db.event.createMany({ data: told.map(({ actorId, item }, i) => ({ filmId: rig.film, seq: before + 1 + i, actorId, kind: 'item.changed', subject: slot.id, rows: { items: [item] } })) });
    await rig.db.film.update({ where: { id: rig.film }, data: { lastSeq: before + told.length } });
    const pages = [await pageOf()];
    while (pages.at(-1)!.older !== null) pages.push(await pageOf(pages.at(-1)!.older!));
    expect(pages.map(({ moments }) => moments.length)).toEqual([30, 30, 11]);
    expect(pages.map(({ named }) => named)).toEqual(pages.map(() => [expect.objectContaining({ seq: first, name: 'First pitch', actorId: editor.userId })]));
    const moments = pages.flatMap((page) => page.moments);
    const ends = counts.map((_, moment) => before + counts.slice(0, moment + 1).reduce((a, b) => a + b));
    expect(moments.map(({ seq }) => seq)).toEqual([...ends.toReversed(), first]);
    expect(moments.slice(0, 70).map(({ counts, names }) => [counts.renamed, names])).toEqual(counts.map((count, moment) => [1, [`moment ${moment}, ${count - 1}`]]).toReversed());
    expect((await editor.get(rig.at('/outline/history?before=soon'))).body.code).toBe('bad-input');
    expect((await pageOf(0)).moments).toEqual([]);
  });

  it('end where a state has a name, which can be changed and taken away', async () => {
    await make('part', 'Crossing', TOP);
    const first = await seqNow();
    await make('part', 'Market night', TOP);
    expect(await history()).toHaveLength(1);
    expect((await editor.put(rig.at(`/outline/at/${first}/name`), { name: ' First pitch ' })).body).toEqual({ name: 'First pitch' });
    expect((await history()).map(({ seq, name }) => [seq, name])).toEqual([[first + 1, null], [first, 'First pitch']]);
    await director.put(rig.at(`/outline/at/${first}/name`), { name: 'As pitched' });
    expect((await history())[1]?.name).toBe('As pitched');
    expect((await editor.del(rig.at(`/outline/at/${first}/name`))).status).toBe(204);
    expect(await history()).toHaveLength(1);
    expect((await editor.put(rig.at(`/outline/at/${first}/name`), { name: '  ' })).body.code).toBe('bad-input');
    expect((await editor.put(rig.at(`/outline/at/${(await seqNow()) + 1}/name`), { name: 'x' })).body.code).toBe('not-found');
  });

  it('are for everybody who may read the outline; names and bringing back are for those who may change it', async () => {
    await make('part', 'Crossing', TOP);
    const seq = await seqNow();
    expect((await rig.as('viewer').get(rig.at('/outline/history'))).status).toBe(200);
    expect((await rig.as('viewer').get(rig.at(`/outline/at/${seq}`))).status).toBe(200);
    for (const person of ['viewer', 'assistant', 'field'] as const) {
      expect((await bringBack(seq - 1, rig.as(person))).status).toBe(403);
      expect((await rig.as(person).put(rig.at(`/outline/at/${seq}/name`), { name: 'x' })).status).toBe(403);
    }
    expect((await rig.as('stranger').get(rig.at('/outline/history'))).status).toBe(404);
  });
});
