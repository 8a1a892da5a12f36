import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Clip, Item, Offer } from '#prisma';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Caller, type Rig } from '../fixtures/rig.ts';
import { addSelect, addSlot } from '../fixtures/slots.ts';

let rig: Rig;
let director: Caller;
let clip: Clip;
let slot: Item;
let offer: Offer;
beforeAll(async () => {
  rig = await startRig();
  director = rig.as('director');
  clip = await addClip(rig, { frames: 240 });
  slot = await addSlot(rig);
  const select = await addSelect(rig, { clip });
  offer = (await rig.as('editor').post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body;
});
afterAll(() => rig.close());

const write = (who: Caller, body: object) => who.post(rig.at('/notes'), { text: 'Hold this longer.', ...body });
const path = (note: { id: string }, rest = '') => rig.at(`/notes/${note.id}${rest}`);
const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });
const drawing = { strokes: [[[0.1, 0.2], [0.5, 0.5]], [[1, 0]]] };

describe('a note', () => {
  it('is on a frame or a span of a clip, with a drawing, addressed to members', async () => {
    const editor = rig.as('editor').userId;
    const note = await write(director, { clipId: clip.id, in: 100, outExclusive: 124, drawing, addressed: [editor, editor] });
    expect(note.status).toBe(201);
    expect(note.body).toMatchObject({ clipId: clip.id, offerId: null, slotId: null, parentId: null, in: 100, outExclusive: 124, drawing, addressed: [editor], authorId: director.userId, settledAt: null });
    expect(await lastEvent()).toMatchObject({ kind: 'note.written', rows: { notes: [note.body] } });
    expect((await director.get(rig.at(`/state/clips?id=${clip.id}`))).body.rows.notes).toContainEqual(note.body);
    expect((await write(director, { clipId: clip.id, in: 239 })).body).toMatchObject({ in: 239, outExclusive: 240 });
    expect((await write(director, { clipId: clip.id })).body).toMatchObject({ in: null, outExclusive: null });
  });

  it('is on an offer in frames of its clip, or on a slot', async () => {
    expect((await write(director, { offerId: offer.id, in: 30 })).body).toMatchObject({ clipId: clip.id, offerId: offer.id, in: 30, outExclusive: 31 });
    expect((await write(director, { slotId: slot.id })).body).toMatchObject({ clipId: null, offerId: null, slotId: slot.id, in: null });
  });

  it('has replies, which stand where it stands, one level deep', async () => {
    const { body: note } = await write(director, { offerId: offer.id, in: 30 });
    const { body: reply } = await write(rig.as('field'), { parentId: note.id, drawing });
    expect(reply).toMatchObject({ parentId: note.id, clipId: clip.id, offerId: offer.id, in: 30, outExclusive: 31, drawing });
    expect((await write(director, { parentId: reply.id })).body).toMatchObject({ parentId: note.id });
    expect((await director.post(path(reply, '/settle'))).body).toMatchObject({ code: 'bad-input', fields: [{ field: 'note' }] });
  });

  it.each<[string, () => object, string, string]>([
    ['nothing', () => ({}), 'note-subject', 'clipId'],
    ['two things', () => ({ clipId: clip.id, slotId: slot.id }), 'note-subject', 'clipId'],
    ['an offer and a parent', () => ({ offerId: offer.id, parentId: 'x' }), 'note-subject', 'clipId'],
    ['a span past the end', () => ({ clipId: clip.id, in: 10, outExclusive: 241 }), 'bad-range', 'outExclusive'],
    ['a frame past the end', () => ({ clipId: clip.id, in: 240 }), 'bad-range', 'outExclusive'],
    ['a reversed span', () => ({ clipId: clip.id, in: 10, outExclusive: 5 }), 'bad-range', 'outExclusive'],
    ['an end without a beginning', () => ({ clipId: clip.id, outExclusive: 5 }), 'bad-range', 'in'],
    ['frames of a slot', () => ({ slotId: slot.id, in: 5 }), 'bad-range', 'in'],
    ['a drawing over no frame', () => ({ slotId: slot.id, drawing }), 'bad-input', 'drawing'],
    ['a stroke outside the picture', () => ({ clipId: clip.id, in: 5, drawing: { strokes: [[[1.1, 0]]] } }), 'bad-input', 'drawing.strokes.0.0.0'],
    ['no words', () => ({ clipId: clip.id, text: '' }), 'bad-input', 'text'],
    ['somebody who is not in the film', () => ({ clipId: clip.id, addressed: [rig.as('stranger').userId] }), 'unknown-member', 'addressed'],
    ['a clip that is not there', () => ({ clipId: 'none' }), 'not-found', 'clipId'],
    ['a part', () => ({ slotId: slot.parentId }), 'not-found', 'slotId'],
    ['an offer that is not there', () => ({ offerId: 'none' }), 'not-found', 'offerId'],
  ])('is refused on %s', async (_, body, code, field) => {
    const answer = await write(director, body());
    expect(answer.body).toMatchObject({ code });
    expect(answer.body.fields.map((fault: { field: string }) => fault.field)).toContain(field);
  });

  it('on a frame needs a measured clip', async () => {
    const fresh = await addClip(rig, { state: 'received', frames: null });
    expect((await write(director, { clipId: fresh.id, in: 0 })).body.code).toBe('clip-not-ready');
    expect((await write(director, { clipId: fresh.id })).status).toBe(201);
  });

  it('is changed by who wrote it and nobody else', async () => {
    const { body: note } = await write(rig.as('field'), { clipId: clip.id, in: 3, drawing });
    expect((await director.patch(path(note), { text: 'Other words' })).body).toMatchObject({ status: 403, code: 'not-author' });
    const changed = await rig.as('field').patch(path(note), { text: 'Tide was turning', drawing: null });
    expect(changed.body).toMatchObject({ text: 'Tide was turning', drawing: null, in: 3 });
    expect(changed.body.editedAt).not.toBeNull();
    expect((await rig.as('field').patch(path(note), {})).body.code).toBe('bad-input');
    expect((await rig.as('field').patch(path(note), { addressed: ['none'] })).body.code).toBe('unknown-member');
  });

  it('is settled and opened again by who settles notes', async () => {
    const { body: note } = await write(rig.as('field'), { clipId: clip.id });
    expect((await rig.as('field').post(path(note, '/settle'))).body.code).toBe('not-allowed');
    expect((await rig.as('assistant').post(path(note, '/settle'))).body).toMatchObject({ settledById: rig.as('assistant').userId });
    expect((await lastEvent()).kind).toBe('note.settled');
    expect((await director.post(path(note, '/reopen'))).body).toEqual(note);
  });

  it('is removed and restored by its author or by who settles notes', async () => {
    const { body: note } = await write(rig.as('field'), { clipId: clip.id });
    const { body: other } = await write(director, { clipId: clip.id });
    expect((await rig.as('field').del(path(other))).body.code).toBe('not-author');
    expect((await rig.as('assistant').del(path(note))).body.removedAt).not.toBeNull();
    expect((await director.get(rig.at(`/state/clips?id=${clip.id}`))).body.rows.notes.map(({ id }: { id: string }) => id)).not.toContain(note.id);
    expect((await rig.as('field').patch(path(note), { text: 'x' })).body.code).toBe('removed-meanwhile');
    expect((await write(director, { parentId: note.id })).body.code).toBe('removed-meanwhile');
    expect((await director.post(path(note, '/settle'))).body.code).toBe('removed-meanwhile');
    expect((await rig.as('field').post(path(note, '/restore'))).body).toEqual(note);
  });

  it('by a viewer is on an offer, or an answer there, and nowhere else', async () => {
    const viewer = rig.as('viewer');
    const { body: own } = await write(viewer, { offerId: offer.id, in: 40 });
    expect(own).toMatchObject({ offerId: offer.id, authorId: viewer.userId });
    expect((await write(viewer, { parentId: own.id })).status).toBe(201);
    expect((await viewer.patch(path(own), { text: 'Rather this.' })).status).toBe(200);
    const { body: crewOnly } = await write(director, { clipId: clip.id });
    for (const body of [{ clipId: clip.id }, { slotId: slot.id }, { parentId: crewOnly.id }])
      expect((await write(viewer, body)).body).toMatchObject({ status: 403, code: 'not-allowed' });
  });

  it('of another film is not there', async () => {
    const { body: note } = await write(director, { clipId: clip.id });
    const other = await rig.db.film.create({ data: { title: 'Another film', rateNum: 25, rateDen: 1, targetFrames: 100, members: { create: { userId: director.userId, role: 'director' } } } });
    expect((await director.del(`/api/films/${other.id}/notes/${note.id}`)).status).toBe(404);
    expect((await director.post(`/api/films/${other.id}/notes`, { text: 'x', clipId: clip.id })).status).toBe(404);
  });
});
