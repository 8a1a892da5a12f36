import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { toItem } from '../outline/index.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Offer, VerdictGiven } from './contract.ts';
import { toOffer } from './rows.ts';
import { rule } from './rules.ts';
import { countDecision, lockOffer } from './store.ts';

/** Verdicts: the slot is held while one is given, so of two at once the first stands and the second is told. */
export function verdictRoute(app: App): void {
  app.post(
    '/api/films/:film/offers/:offer/verdict',
    {
      config: { permission: 'verdicts.give' },
      schema: {
        summary: 'Approve, hold, pass, or take a verdict back',
        description: 'Answers every offer that it changed: approving moves the former pick to hold. 409 `decided-meanwhile` and `trimmed-meanwhile` carry `slot` and `offers` as they stand.',
        params: Type.Object({ film: Type.String(), offer: Type.String() }),
        body: VerdictGiven,
        response: { 200: Type.Array(Offer) },
      },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { verdict, reason = '', decisions, trim = null } = request.body;
      return write(app.db, whoOf(request), filmId, async (tx) => {
        const { offer, slot, offers } = await lockOffer(tx, filmId, request.params.offer);
        const rulings = withRows(() => rule(slot, offers, { offerId: offer.id, verdict, reason, decisions, trim, by: userId, at: new Date() }), {
          slot: toItem(slot),
          offers: offers.filter(({ removedAt }) => !removedAt).map(toOffer),
        });
        const result: Offer[] = [];
        for (const { id, ...said } of rulings) result.push(toOffer(await tx.offer.update({ where: { id }, data: said })));
        return { kind: 'verdict.given', subject: offer.id, rows: { offers: result, items: [toItem(await countDecision(tx, slot.id))] }, result };
      });
    },
  );
}

/** Lets a refusal for what happened meanwhile carry the rows as they stand, so that the page can show them at once. */
function withRows<T>(decide: () => T, more: Record<string, unknown>): T {
  try {
    return decide();
  } catch (error) {
    if (error instanceof Refusal && (error.code === 'decided-meanwhile' || error.code === 'trimmed-meanwhile'))
      throw new Refusal(error.code, undefined, { more, cause: error });
    throw error;
  }
}
