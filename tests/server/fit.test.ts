import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { Item } from '../../server/outline/contract.ts';
import { listItems } from '../../server/outline/index.ts';
import { addMark, addTrack } from '../fixtures/music.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { addSelect } from '../fixtures/slots.ts';

let rig: Rig;
let part: Item;
let slots: [Item, Item];
beforeAll(async () => {
  rig = await startRig();
});
afterAll(() => rig?.close());
beforeEach(async () => {
  await rig.db.track.deleteMany();
  await rig.db.item.deleteMany();
  const make = async (kind: 'part' | 'slot', name: string, parentId: string | null, rest = {}): Promise<Item> => (await editor().post(rig.at('/items'), { kind, name, place: { parentId, afterId: null }, ...rest })).body;
  part = await make('part', 'The crossing', null);
  slots = [await make('slot', 'Wheels', part.id, { wish: { kind: 'range', min: 2000, max: 4000 } }), await make('slot', 'Driver', part.id)];
});

const editor = () => rig.as('editor');
const seqNow = async (): Promise<number> => (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq;
// The film of the rig has 5754 frames.
const adopt = async (frames: number[] = [3000, 2754], more: object = {}) => editor().put(rig.at('/outline/fitted'), { seen: await seqNow(), lengths: slots.map(({ id }, i) => ({ id, frames: frames[i]! })), ...more });
const fittedNow = async () => Object.fromEntries((await listItems(rig.db, rig.film)).map(({ name, fitted }) => [name, fitted]));

describe('a fit', () => {
  it('is kept beside the wishes, as one change with all its rows, replaced by the next, and put away as one', async () => {
    const { status, body } = await adopt();
    expect(status).toBe(200);
    expect(body.items.map(({ name, fitted, wish }: Item) => [name, fitted, wish.kind]).sort()).toEqual([['Driver', 2754, 'open'], ['Wheels', 3000, 'range']]);
    expect(await rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } })).toMatchObject({ kind: 'outline.fitted', rows: { items: body.items } });
    expect((await adopt([3001, 2753])).status).toBe(200);
    expect(await fittedNow()).toEqual({ 'The crossing': null, Wheels: 3001, Driver: 2753 });
    const before = await seqNow();
    const dropped = await rig.as('director').del(rig.at('/outline/fitted'));
    expect(dropped.body.items).toHaveLength(2);
    expect(await seqNow()).toBe(before + 1);
    expect(await fittedNow()).toEqual({ 'The crossing': null, Wheels: null, Driver: null });
    expect((await editor().del(rig.at('/outline/fitted'))).body.code).toBe('as-it-is');
  });

  it('is among the states of the outline, and comes back with the state', async () => {
    await adopt();
    const kept = await seqNow();
    await editor().del(rig.at('/outline/fitted'));
    expect((await editor().get(rig.at('/outline/history'))).body.moments[0].counts.length).toBe(0);
    expect((await editor().post(rig.at(`/outline/at/${kept}/bring-back`))).status).toBe(200);
    expect(await fittedNow()).toMatchObject({ Wheels: 3000, Driver: 2754 });
  });

  it.each<[string, () => Promise<unknown>]>([
    ['a length', () => editor().patch(rig.at(`/items/${slots[0].id}`), { wish: { kind: 'fixed', frames: 3000 } })],
    ['the lines', () => editor().post(rig.at('/items'), { kind: 'slot', name: 'Half way', place: { parentId: part.id, afterId: null } })],
    ['the running time', () => editor().patch(`/api/films/${rig.film}`, { targetFrames: 5754 })],
    ['the lengths of a fit', () => adopt([3100, 2654])],
  ])('is refused when %s changed in the meantime, and nothing is written', async (_, change) => {
    const seen = await seqNow();
    await change();
    const before = await fittedNow();
    expect((await adopt([3000, 2754], { seen })).body.code).toBe('changed-meanwhile');
    expect(await fittedNow()).toEqual(before);
  });

  it('is refused when the music, its marks or ties changed in the meantime', async () => {
    const track = await addTrack(rig);
    const mark = await addMark(rig, track, 1000);
    const changes = [
      () => editor().post(rig.at(`/tracks/${track.id}/lock`), { instead: null }),
      () => editor().patch(rig.at(`/marks/${mark.id}`), { atMs: 1020 }),
      () => editor().post(rig.at(`/tracks/${track.id}/marks`), { add: [{ kind: 'hit', atMs: 3000 }] }),
      () => editor().put(rig.at(`/items/${slots[1].id}/tie`), { markId: mark.id, instead: null }),
    ];
    for (const change of changes) {
      const seen = await seqNow();
      expect((await change()).status).toBe(200);
      expect((await adopt([3000, 2754], { seen })).body.code).toBe('changed-meanwhile');
    }
    expect((await adopt()).status).toBe(200);
  });

  it('is not in the way of those who note and decide meanwhile', async () => {
    const seen = await seqNow();
    const offer = (await editor().post(rig.at('/offers'), { slotId: slots[0].id, selectId: (await addSelect(rig)).id })).body;
    expect((await rig.as('director').post(rig.at(`/offers/${offer.id}/verdict`), { verdict: 'approve', decisions: 0 })).status).toBe(200);
    expect((await adopt([3000, 2754], { seen })).status).toBe(200);
  });

  it('of two adopted at once, one is told that the other came first', async () => {
    const seen = await seqNow();
    const answers = await Promise.all([adopt([3000, 2754], { seen }), adopt([3200, 2554], { seen })]);
    expect(answers.map(({ status }) => status).sort()).toEqual([200, 409]);
    expect(await fittedNow()).toMatchObject(answers[0].status === 200 ? { Wheels: 3000, Driver: 2754 } : { Wheels: 3200, Driver: 2554 });
  });

  it.each<[string, (ids: string[]) => { id: string; frames: number }[], string]>([
    ['that leaves a line out', ([a]) => [{ id: a!, frames: 5754 }], 'lengths'],
    ['that does not sum to the running time', ([a, b]) => [{ id: a!, frames: 3000 }, { id: b!, frames: 2755 }], 'lengths'],
    ['that names a line twice', ([a]) => [{ id: a!, frames: 3000 }, { id: a!, frames: 2754 }], 'lengths.1.id'],
    ['that gives a part a length', ([a, b, c]) => [{ id: a!, frames: 2000 }, { id: b!, frames: 2000 }, { id: c!, frames: 1754 }], 'lengths.2.id'],
    ['of a line that is not there', ([a]) => [{ id: a!, frames: 3000 }, { id: 'none', frames: 2754 }], 'lengths.1.id'],
    ['with a length of nothing', ([a, b]) => [{ id: a!, frames: 0 }, { id: b!, frames: 5754 }], 'lengths.0.frames'],
  ])('%s is refused', async (_, lengths, field) => {
    const { status, body } = await adopt([0, 0], { lengths: lengths([slots[0].id, slots[1].id, part.id]) });
    expect([status, body.code, body.fields.map((one: { field: string }) => one.field)]).toEqual([400, 'bad-input', [field]]);
    expect(await fittedNow()).toEqual({ 'The crossing': null, Wheels: null, Driver: null });
  });

  it('is for who writes the outline', async () => {
    const lengths = slots.map(({ id }, i) => ({ id, frames: [3000, 2754][i]! }));
    for (const person of ['assistant', 'field', 'viewer'] as const) {
      expect((await rig.as(person).put(rig.at('/outline/fitted'), { seen: await seqNow(), lengths })).status).toBe(403);
      expect((await rig.as(person).del(rig.at('/outline/fitted'))).status).toBe(403);
    }
  });
});
