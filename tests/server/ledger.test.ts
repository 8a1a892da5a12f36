import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Clip, Item } from '#prisma';
import type { Ledger, Waiting } from '../../server/ledger/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Person, type Rig } from '../fixtures/rig.ts';
import { addItem, addSelect } from '../fixtures/slots.ts';

// A film with two sequences, worked through by hand:
//   Opening: low water (target 10 s) > the flats > [gulls: two offers, one approved] [boots: offered]
//   The crossing                     > [causeway: all passed] [sea wall: nothing]
let rig: Rig;
let sequences: Item[];
let slots: Record<'gulls' | 'boots' | 'causeway' | 'seaWall', Item>;
let clips: { fast: Clip; plain: Clip; failed: Clip; fresh: Clip };
let bootsOffer: { id: string };
let noteId: string;

beforeAll(async () => {
  rig = await startRig();
  const opening = await addItem(rig, 'part', 'Opening: low water', null, { targetFrames: 240 });
  const flats = await addItem(rig, 'part', 'The flats', opening.id);
  const crossing = await addItem(rig, 'part', 'The crossing');
  const market = await addItem(rig, 'part', 'Market night');
  await addItem(rig, 'slot', 'Lanterns', market.id);
  sequences = [opening, crossing];
  slots = {
    gulls: await addItem(rig, 'slot', 'Gulls', flats.id),
    boots: await addItem(rig, 'slot', 'Boots', opening.id),
    causeway: await addItem(rig, 'slot', 'Causeway', crossing.id),
    seaWall: await addItem(rig, 'slot', 'Sea wall', crossing.id),
  };
  const field = rig.as('field');
  clips = {
    fast: await addClip(rig, { name: 'B003.mov', rateNum: 50, rateDen: 1, frames: 500, receivedAt: new Date('2026-05-01T10:00:00Z') }),
    plain: await addClip(rig, { name: 'A001.mov', receivedAt: new Date('2026-05-01T11:00:00Z') }),
    failed: await addClip(rig, { name: 'D002.mp4', state: 'failed', frames: null, proxyVersion: null, failure: { code: 'x', reason: 'The file ends in the middle of a frame.' } }),
    fresh: await addClip(rig, { name: 'D003.mp4', state: 'received', frames: null, proxyVersion: null, uploadedById: rig.as('assistant').userId }),
  };
  await addClip(rig, { name: 'gone.mov', removedAt: new Date() });

  const offer = async (slot: Item, clip: Clip, range: { in: number; outExclusive: number }) =>
    (await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: (await addSelect(rig, { clip, ...range })).id })).body;
  const decide = (made: { id: string }, body: object) => rig.as('director').post(rig.at(`/offers/${made.id}/verdict`), body);
  await decide(await offer(slots.gulls, clips.fast, { in: 100, outExclusive: 201 }), { verdict: 'approve', decisions: 0 });
  await offer(slots.gulls, clips.plain, { in: 0, outExclusive: 48 });
  bootsOffer = await offer(slots.boots, clips.plain, { in: 60, outExclusive: 90 });
  await decide(await offer(slots.causeway, clips.plain, { in: 100, outExclusive: 130 }), { verdict: 'pass', reason: 'Horizon tilts', decisions: 0 });

  const write = (body: object) => field.post(rig.at('/notes'), body).then((answer) => answer.body);
  const note = await write({ offerId: bootsOffer.id, in: 62, text: 'Is this the tide you meant?', addressed: [rig.as('director').userId] });
  noteId = note.id;
  await write({ parentId: noteId, text: 'Or the one before?' });
  await write({ clipId: clips.plain.id, text: 'Wind on the microphone' });
  const settled = await write({ slotId: slots.seaWall.id, text: 'Done', addressed: [rig.as('director').userId] });
  await rig.as('director').post(rig.at(`/notes/${settled.id}/settle`));

  // Two people watched parts of the 50 p clip that overlap: 0-300 together. 200 frames of 500 are left, 4 s.
  const seen = (person: Person, ranges: string) => rig.db.$executeRaw`INSERT INTO seen (clip_id, user_id, ranges) VALUES (${clips.fast.id}, ${rig.as(person).userId}, ${ranges}::int4multirange)`;
  await seen('editor', '{[0,200)}');
  await seen('field', '{[150,300)}');
  await rig.db.item.update({ where: { id: market.id }, data: { removedAt: new Date() } });
  await rig.db.item.updateMany({ where: { parentId: market.id }, data: { removedAt: new Date() } });
});
afterAll(() => rig.close());

const read = async (person: Person): Promise<Ledger> => (await rig.as(person).get(rig.at('/ledger'))).body;
const waiting = async (person: Person, kind: Waiting['kind']) => (await read(person)).waitingOnMe.filter((one) => one.kind === kind);

describe('the ledger', () => {
  it('has one line a sequence, slots of its subsequences counted in', async () => {
    // The film has 5754 frames: 240 asked for by the first sequence, and the rest for the second.
    // 101 frames at 50 are 2.02 s; times 24000/1001 that is 48.43, so 48 frames of the film.
    expect((await read('director')).sequences).toEqual([
      { id: sequences[0]!.id, name: 'Opening: low water', role: 'body', slots: 2, offered: 2, approved: 1, plannedFrames: 240, pickedFrames: 48, openNotes: 1 },
      { id: sequences[1]!.id, name: 'The crossing', role: 'body', slots: 2, offered: 0, approved: 0, plannedFrames: 5514, pickedFrames: 0, openNotes: 0 },
    ]);
  });

  it('says what the whole film lacks, and what nobody has watched', async () => {
    const { whole } = await read('editor');
    expect(whole).toMatchObject({ slots: 4, offered: 2, approved: 1, targetFrames: 5754, pickedFrames: 48, clips: 4, unseenClips: 4, openNotes: 2 });
    // 200 frames at 50, and all 240 at 24000/1001.
    expect(whole.unseenSeconds).toBeCloseTo(4 + (240 * 1001) / 24000, 9);
  });

  it('knows a clip as seen when several people watched all of it between them', async () => {
    await rig.db.$executeRaw`UPDATE seen SET ranges = '{[200,500)}' WHERE clip_id = ${clips.fast.id} AND user_id = ${rig.as('field').userId}`;
    const { whole } = await read('editor');
    expect(whole.unseenClips).toBe(3);
    expect(whole.unseenSeconds).toBeCloseTo((240 * 1001) / 24000, 9);
    expect(await waiting('editor', 'unseen')).toMatchObject([{ clipId: clips.plain.id, frame: 0 }]);
    await rig.db.$executeRaw`UPDATE seen SET ranges = '{[150,300)}' WHERE clip_id = ${clips.fast.id} AND user_id = ${rig.as('field').userId}`;
    expect(await waiting('editor', 'unseen')).toMatchObject([{ clipId: clips.fast.id, frame: 300 }]);
  });

  it('shows a director the offers that wait, oldest first, and no others', async () => {
    const due = await waiting('director', 'verdict');
    expect(due.map(({ slotId }) => slotId)).toEqual([slots.gulls.id, slots.boots.id]);
    expect(due[1]).toMatchObject({ text: 'Boots: A001.mov is offered', offerId: bootsOffer.id, clipId: clips.plain.id, frame: 60 });
    for (const other of ['editor', 'assistant', 'field'] as const) expect(await waiting(other, 'verdict')).toEqual([]);
  });

  it('shows an editor the slots that lack a shot in outline order, passed ones too', async () => {
    expect((await waiting('editor', 'empty-slot')).map(({ slotId }) => slotId)).toEqual([slots.causeway.id, slots.seaWall.id]);
    for (const other of ['director', 'assistant', 'field'] as const) expect(await waiting(other, 'empty-slot')).toEqual([]);
  });

  it('shows open notes to whom they name, at their frame, and settled ones to nobody', async () => {
    const [note, ...more] = await waiting('director', 'note');
    expect(more).toEqual([]);
    expect(note).toMatchObject({ noteId, offerId: bootsOffer.id, slotId: slots.boots.id, clipId: clips.plain.id, frame: 62, text: 'Test field: Is this the tide you meant?' });
    expect(await waiting('editor', 'note')).toEqual([]);
    await rig.as('director').post(rig.at('/notes'), { parentId: noteId, text: 'That one.', addressed: [rig.as('field').userId] });
    expect(await waiting('field', 'note')).toMatchObject([{ text: 'Test director: That one.', frame: 62 }]);
    await rig.as('director').post(rig.at(`/notes/${noteId}/settle`));
    expect([await waiting('director', 'note'), await waiting('field', 'note')]).toEqual([[], []]);
  });

  it('shows a clip that failed to whoever sent it', async () => {
    expect(await waiting('field', 'failed-clip')).toMatchObject([{ clipId: clips.failed.id, text: 'D002.mp4: The file ends in the middle of a frame.' }]);
    expect(await waiting('assistant', 'failed-clip')).toEqual([]);
  });

  it('is empty and whole for a film with nothing in it', async () => {
    const film = await rig.db.film.create({
      data: { title: 'Not begun', rateNum: 25, rateDen: 1, targetFrames: 100, members: { create: { userId: rig.as('director').userId, role: 'director' } } },
    });
    expect((await rig.as('director').get(`/api/films/${film.id}/ledger`)).body).toEqual({
      sequences: [],
      whole: { slots: 0, offered: 0, approved: 0, targetFrames: 100, pickedFrames: 0, clips: 0, unseenClips: 0, unseenSeconds: 0, openNotes: 0 },
      waitingOnMe: [],
    });
  });

  it('is not for viewers, nor for people outside the film', async () => {
    expect((await rig.as('viewer').get(rig.at('/ledger'))).status).toBe(403);
    expect((await rig.as('stranger').get(rig.at('/ledger'))).status).toBe(404);
    expect((await rig.as('nobody').get(rig.at('/ledger'))).status).toBe(401);
  });
});
