import { Type } from 'typebox';
import { between } from '#core/order.ts';
import { memberOf, whoOf } from '../access/index.ts';
import { toClip } from '../footage/index.ts';
import { toItem } from '../outline/index.ts';
import { checkInClip } from '../selects/index.ts';
import { checkFreeId } from '../platform/client-id.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { theRow, write } from '../platform/write.ts';
import { NewOffer, Offer, OfferTrim } from './contract.ts';
import { toOffer } from './rows.ts';
import { trimReopens, verdictOnReturn } from './rules.ts';
import { countDecision, liveSelect, lockOffer, lockSlot } from './store.ts';
import { verdictRoute } from './verdict.ts';

export { toOffer } from './rows.ts';
export { listOffers } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneOffer = Type.Object({ film: Type.String(), offer: Type.String() });
const config = { permission: 'offers.edit' } as const;

/** Offers: selects put up for slots, and the verdicts on them. */
export const offers = guarded('offers', async (app: App) => {
  const { db } = app;
  verdictRoute(app);

  app.post(
    '/api/films/:film/offers',
    { config, schema: { summary: 'Offer a select for a slot', params: InFilm, body: NewOffer, response: { 201: Offer } } },
    async (request, reply) => {
      const { filmId, userId } = memberOf(request);
      const { id, slotId, selectId } = request.body;
      const made = await write(db, whoOf(request), filmId, async (tx) => {
        const slot = await lockSlot(tx, filmId, slotId);
        const select = await liveSelect(tx, filmId, selectId);
        const trim = { in: request.body.in ?? select.in, outExclusive: request.body.outExclusive ?? select.outExclusive };
        checkInClip(trim, select.clip);
        await checkFreeId(id, (one) => tx.offer.count({ where: { id: one } }));
        const others = await tx.offer.findMany({ where: { slotId } });
        if (others.some((other) => other.selectId === selectId && !other.removedAt)) throw new Refusal('already-offered');
        // Behind the removed ones too, so that a restored offer has its old place.
        const last = others.map(({ orderKey }) => orderKey).sort().at(-1) ?? null;
        const row = await tx.offer.create({ data: { ...(id && { id }), filmId, slotId: slot.id, selectId, clipId: select.clipId, ...trim, orderKey: between(last, null), offeredById: userId } });
        const result = toOffer(row);
        // With its clip: who may not read clips comes to see this one now.
        return { kind: 'offer.made', subject: result.id, rows: { offers: [result], clips: [toClip(select.clip)] }, result };
      }, theRow('offers'));
      return reply.status(201).send(made);
    },
  );

  app.patch(
    '/api/films/:film/offers/:offer',
    {
      config,
      schema: {
        summary: 'Trim an offer',
        description: 'A pick that is trimmed by somebody who gives no verdicts is open again: what is cut in must be what was approved.',
        params: OneOffer,
        body: OfferTrim,
        response: { 200: Offer },
      },
    },
    async (request) => {
      const { filmId, can } = memberOf(request);
      const trim = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const { offer, slot } = await lockOffer(tx, filmId, request.params.offer);
        if (offer.removedAt) throw new Refusal('removed-meanwhile');
        checkInClip(trim, offer.clip);
        if (!trimReopens(offer, can.has('verdicts.give'))) {
          const result = toOffer(await tx.offer.update({ where: { id: offer.id }, data: trim }));
          return { kind: 'offer.trimmed', subject: result.id, rows: { offers: [result] }, result };
        }
        const result = toOffer(await tx.offer.update({ where: { id: offer.id }, data: { ...trim, verdict: 'open', reason: '', decidedById: null, decidedAt: null } }));
        return { kind: 'offer.reopened', subject: result.id, rows: { offers: [result], items: [toItem(await countDecision(tx, slot.id))] }, result };
      }, theRow('offers'));
    },
  );

  app.delete(
    '/api/films/:film/offers/:offer',
    { config, schema: { summary: 'Take an offer back; without its pick a slot is open again', params: OneOffer, response: { 200: Offer } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { offer } = await lockOffer(tx, filmId, request.params.offer);
        if (offer.removedAt) throw new Refusal('removed-meanwhile');
        const result = toOffer(await tx.offer.update({ where: { id: offer.id }, data: { removedAt: new Date() } }));
        return { kind: result.verdict === 'approve' ? 'pick.removed' : 'offer.removed', subject: result.id, rows: { offers: [result] }, result };
      }, theRow('offers'));
    },
  );

  app.post(
    '/api/films/:film/offers/:offer/restore',
    { config, schema: { summary: 'Put an offer up again; a former pick is on hold when the slot has another by now', params: OneOffer, response: { 200: Offer } } },
    async (request) => {
      const { filmId } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { offer, offers } = await lockOffer(tx, filmId, request.params.offer);
        const others = offers.filter(({ id }) => id !== offer.id);
        if (others.some(({ selectId, removedAt }) => selectId === offer.selectId && !removedAt)) throw new Refusal('already-offered');
        if (offer.clip.removedAt) throw new Refusal('removed-meanwhile', 'The clip was removed; restore it first.');
        const result = toOffer(await tx.offer.update({ where: { id: offer.id }, data: { removedAt: null, verdict: verdictOnReturn(offer, others) } }));
        return { kind: 'offer.restored', subject: result.id, rows: { offers: [result], clips: [toClip(offer.clip)] }, result };
      }, theRow('offers'));
    },
  );
});
