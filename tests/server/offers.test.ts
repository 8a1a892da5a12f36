import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { Offer } from '../../server/offers/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Caller, type Rig } from '../fixtures/rig.ts';
import { addSelect, addSlot } from '../fixtures/slots.ts';

let rig: Rig;
let director: Caller;
let editor: Caller;
beforeAll(async () => {
  rig = await startRig();
  director = rig.as('director');
  editor = rig.as('editor');
});
afterAll(() => rig.close());

const lastEvent = () => rig.db.event.findFirstOrThrow({ where: { filmId: rig.film }, orderBy: { seq: 'desc' } });
const offerPath = (offer: { id: string }, rest = '') => rig.at(`/offers/${offer.id}${rest}`);
const decide = (who: Caller, offer: { id: string }, body: object) => who.post(offerPath(offer, '/verdict'), body);

async function offersFor(slot: { id: string }, count: number): Promise<Offer[]> {
  const made: Offer[] = [];
  for (let n = 0; n < count; n++) made.push((await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: (await addSelect(rig)).id })).body);
  return made;
}

describe('offers', () => {
  it('take the range of their select, or a trim of their own, and line up in order', async () => {
    const [slot, clip] = [await addSlot(rig), await addClip(rig)];
    const first = await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: (await addSelect(rig, { clip })).id });
    const second = await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: (await addSelect(rig, { clip })).id, in: 0, outExclusive: 240 });
    expect(first.status).toBe(201);
    expect(first.body).toMatchObject({ slotId: slot.id, clipId: clip.id, in: 24, outExclusive: 72, verdict: 'open', offeredById: editor.userId, removedAt: null });
    expect(second.body).toMatchObject({ in: 0, outExclusive: 240 });
    expect(second.body.orderKey > first.body.orderKey).toBe(true);
    // The clip comes along: a viewer, who reads no other clips, can play this one now.
    expect((await lastEvent()).rows).toMatchObject({ offers: [second.body], clips: [{ id: clip.id }] });
  });

  it('are refused twice for one slot, outside the clip, and for what is not there', async () => {
    const [slot, select] = [await addSlot(rig), await addSelect(rig)];
    const ask = (body: object) => editor.post(rig.at('/offers'), { slotId: slot.id, selectId: select.id, ...body });
    expect((await ask({ outExclusive: 241 })).body).toMatchObject({ code: 'bad-range', fields: [{ field: 'outExclusive' }] });
    expect((await ask({ in: 72 })).body).toMatchObject({ code: 'bad-range' });
    expect((await ask({ slotId: slot.parentId })).body).toMatchObject({ code: 'not-found', fields: [{ field: 'slotId' }] });
    expect((await ask({ selectId: 'none' })).body).toMatchObject({ code: 'not-found', fields: [{ field: 'selectId' }] });
    const twice = await Promise.all([ask({}), ask({})]);
    expect(twice.map(({ status }) => status).sort()).toEqual([201, 409]);
    expect(twice.find(({ status }) => status === 409)?.body.code).toBe('already-offered');
    await rig.db.item.update({ where: { id: slot.id }, data: { removedAt: new Date() } });
    expect((await ask({ selectId: (await addSelect(rig)).id })).body.code).toBe('removed-meanwhile');
  });

  it('stand when their select is removed', async () => {
    const slot = await addSlot(rig);
    const [offer] = await offersFor(slot, 1);
    expect((await editor.del(rig.at(`/selects/${offer!.selectId}`))).status).toBe(200);
    expect((await editor.get(rig.at('/state'))).body.rows.offers).toContainEqual(offer);
    expect((await editor.patch(offerPath(offer!), { in: 30, outExclusive: 60 })).body).toEqual({ ...offer, in: 30, outExclusive: 60 });
    const again = await editor.post(rig.at('/offers'), { slotId: (await addSlot(rig)).id, selectId: offer!.selectId });
    expect(again.body.code).toBe('removed-meanwhile');
  });

  it('that are the pick wait for a verdict again when the editor trims them, not when the director does', async () => {
    const slot = await addSlot(rig);
    const [offer] = await offersFor(slot, 1);
    await decide(director, offer!, { verdict: 'approve', decisions: 0 });
    expect((await director.patch(offerPath(offer!), { in: 25, outExclusive: 70 })).body).toMatchObject({ verdict: 'approve', in: 25, outExclusive: 70 });
    const trimmed = await editor.patch(offerPath(offer!), { in: 26, outExclusive: 70 });
    expect(trimmed.body).toMatchObject({ verdict: 'open', in: 26, decidedById: null });
    expect(await lastEvent()).toMatchObject({ kind: 'offer.reopened', rows: { offers: [trimmed.body], items: [{ id: slot.id, decisions: 2 }] } });
  });

  it('leave the slot without a pick when the pick is removed, and return as hold when it has another', async () => {
    const slot = await addSlot(rig);
    const [a, b] = await offersFor(slot, 2);
    await decide(director, a!, { verdict: 'approve', decisions: 0 });
    expect((await editor.del(offerPath(a!))).body.removedAt).not.toBeNull();
    expect((await lastEvent()).kind).toBe('pick.removed');
    expect((await decide(director, a!, { verdict: 'hold', decisions: 1 })).body.code).toBe('removed-meanwhile');
    expect((await editor.post(offerPath(a!, '/restore'))).body).toMatchObject({ verdict: 'approve', removedAt: null });
    await editor.del(offerPath(a!));
    await decide(director, b!, { verdict: 'approve', decisions: 1 });
    expect((await editor.post(offerPath(a!, '/restore'))).body).toMatchObject({ verdict: 'hold', removedAt: null });
  });

  it('cannot be restored beside a newer offer of the same select', async () => {
    const slot = await addSlot(rig);
    const [a] = await offersFor(slot, 1);
    await editor.del(offerPath(a!));
    await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: a!.selectId });
    expect((await editor.post(offerPath(a!, '/restore'))).body.code).toBe('already-offered');
  });
});

describe('verdicts', () => {
  it('approving moves the former pick to hold, and both are told in one event', async () => {
    const slot = await addSlot(rig);
    const [a, b] = await offersFor(slot, 2);
    expect((await decide(director, a!, { verdict: 'approve', decisions: 0 })).body).toMatchObject([{ id: a!.id, verdict: 'approve', decidedById: director.userId }]);
    const answer = await decide(director, b!, { verdict: 'approve', decisions: 1, reason: 'The gull' });
    expect(answer.body).toMatchObject([{ id: a!.id, verdict: 'hold' }, { id: b!.id, verdict: 'approve', reason: 'The gull' }]);
    expect(await lastEvent()).toMatchObject({ kind: 'verdict.given', subject: b!.id, rows: { offers: answer.body, items: [{ id: slot.id, decisions: 2 }] } });
    expect((await decide(director, b!, { verdict: 'open', decisions: 2 })).body).toMatchObject([{ id: b!.id, verdict: 'open', decidedById: null, decidedAt: null }]);
  });

  it('are refused without a reason for a pass, on an older count, and on an older trim', async () => {
    const slot = await addSlot(rig);
    const [a, b] = await offersFor(slot, 2);
    expect((await decide(director, a!, { verdict: 'pass', decisions: 0 })).body).toMatchObject({ status: 400, code: 'reason-needed', fields: [{ field: 'reason' }] });
    await decide(director, a!, { verdict: 'approve', decisions: 0 });
    const late = await decide(director, b!, { verdict: 'approve', decisions: 0 });
    expect(late.status).toBe(409);
    expect(late.body).toMatchObject({ code: 'decided-meanwhile', slot: { id: slot.id, decisions: 1 }, offers: [{ id: a!.id, verdict: 'approve' }, { id: b!.id, verdict: 'open' }] });
    await editor.patch(offerPath(b!), { in: 40, outExclusive: 72 });
    const other = await decide(director, b!, { verdict: 'approve', decisions: 1, trim: { in: 24, outExclusive: 72 } });
    expect(other.body).toMatchObject({ status: 409, code: 'trimmed-meanwhile', offers: [{ id: a!.id }, { id: b!.id, in: 40 }] });
  });

  it('are for directors, and offers for who prepares the film', async () => {
    const slot = await addSlot(rig);
    const [a] = await offersFor(slot, 1);
    for (const role of ['editor', 'assistant', 'field', 'viewer'] as const)
      expect((await decide(rig.as(role), a!, { verdict: 'approve', decisions: 0 })).body.code).toBe('not-allowed');
    for (const role of ['assistant', 'field', 'viewer'] as const) expect((await rig.as(role).del(offerPath(a!))).body.code).toBe('not-allowed');
    const other = await rig.db.film.create({ data: { title: 'Another film', rateNum: 25, rateDen: 1, targetFrames: 100, members: { create: { userId: director.userId, role: 'director' } } } });
    expect((await director.post(`/api/films/${other.id}/offers/${a!.id}/verdict`, { verdict: 'approve', decisions: 0 })).status).toBe(404);
  });

  it('50 at once from two directors: one stands for each count, and never more than one pick', async () => {
    const slot = await addSlot(rig);
    const offers = await offersFor(slot, 10);
    const directors = [director, await rig.join('director', 'Second director')];
    let decisions = 0;
    for (let round = 0; round < 3; round++) {
      const answers = await Promise.all(
        Array.from({ length: 50 }, (_, n) => decide(directors[n % 2]!, offers[(n + round) % 10]!, { verdict: 'approve', decisions })),
      );
      expect(answers.filter(({ status }) => status === 200)).toHaveLength(1);
      const refused = answers.filter(({ status }) => status !== 200);
      expect(new Set(refused.map(({ body }) => body.code))).toEqual(new Set(['decided-meanwhile']));
      // Whoever was refused is shown the pick that stands.
      const [pick] = await rig.db.offer.findMany({ where: { slotId: slot.id, verdict: 'approve' } });
      for (const { body } of refused) expect(body.offers.filter((offer: Offer) => offer.verdict === 'approve').map((offer: Offer) => offer.id)).toEqual([pick!.id]);
      decisions += 1;
      expect((await rig.db.item.findUniqueOrThrow({ where: { id: slot.id } })).decisions).toBe(decisions);
    }
  });

  it('20 at once, each tried again on the count it is told: all stand one after the other, and the events tell the same', async () => {
    const slot = await addSlot(rig);
    const offers = await offersFor(slot, 10);
    const { lastSeq: before } = await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } });
    const persist = async (offer: Offer): Promise<void> => {
      for (let decisions = 0; ; ) {
        const answer = await decide(director, offer, { verdict: 'approve', decisions });
        if (answer.status === 200) return;
        expect(answer.body.code).toBe('decided-meanwhile');
        decisions = answer.body.slot.decisions;
      }
    };
    await Promise.all(Array.from({ length: 20 }, (_, n) => persist(offers[n % 10]!)));

    const events = await rig.db.event.findMany({ where: { filmId: rig.film, seq: { gt: before } }, orderBy: { seq: 'asc' } });
    expect(events).toHaveLength(20);
    const mirror = new Map<string, Offer>(offers.map((offer) => [offer.id, offer]));
    for (const [n, event] of events.entries()) {
      const rows = event.rows as unknown as { offers: Offer[]; items: { decisions: number }[] };
      for (const offer of rows.offers) mirror.set(offer.id, offer);
      expect(rows.items[0]!.decisions).toBe(n + 1);
      expect([...mirror.values()].filter(({ verdict }) => verdict === 'approve')).toHaveLength(1);
    }
    const stored = (await director.get(rig.at('/state'))).body.rows.offers.filter((offer: Offer) => offer.slotId === slot.id);
    expect(stored).toEqual(offers.map(({ id }) => mirror.get(id)));
  });

  it('a second pick written behind the back of the rules is refused by the database', async () => {
    const slot = await addSlot(rig);
    const [a, b] = await offersFor(slot, 2);
    await decide(director, a!, { verdict: 'approve', decisions: 0 });
    await expect(rig.db.$executeRaw`UPDATE offer SET verdict = 'approve' WHERE id = ${b!.id}`).rejects.toThrow(/23505|offer_one_pick_a_slot|[Uu]nique/);
    expect(await rig.db.offer.count({ where: { slotId: slot.id, verdict: 'approve' } })).toBe(1);
  });
});
