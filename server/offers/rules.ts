// The states of an offer: open -> approve | hold | pass, and from each to each, because a verdict is undone by a verdict.
// Whatever happens, a slot has one pick at most: approving moves the former pick to hold, and a pick that comes back
// from removal into a slot that has another by now comes back as hold.
import type { Said } from '#core/slot-state.ts';
import { Refusal } from '../platform/errors.ts';

/** What a verdict is decided on: an offer of the slot as it stands. */
export interface Standing {
  id: string;
  verdict: Said;
  in: number;
  outExclusive: number;
  removedAt: Date | null;
}

export interface Ask {
  offerId: string;
  verdict: Said;
  reason: string;
  /** The count of verdicts in the slot that the person was looking at. */
  decisions: number;
  /** The trim that the person was looking at, when they said so. */
  trim: { in: number; outExclusive: number } | null;
  by: string;
  at: Date;
}

/** What is to be written on one offer. */
export interface Ruling {
  id: string;
  verdict: Said;
  reason: string;
  decidedById: string | null;
  decidedAt: Date | null;
}

/**
 * What a verdict changes, in the order to write it: the former pick steps down before the new one stands.
 * `slot.decisions` and `offers` (all of the slot) are as locked now. Throws `decided-meanwhile` or `trimmed-meanwhile`
 * (without the rows, which the caller adds), `removed-meanwhile`, `not-found`, `reason-needed`.
 */
export function rule(slot: { decisions: number }, offers: readonly Standing[], ask: Ask): Ruling[] {
  const offer = offers.find(({ id }) => id === ask.offerId);
  if (!offer) throw new Refusal('not-found');
  const reason = ask.reason.trim();
  if (ask.verdict === 'pass' && reason === '')
    throw new Refusal('reason-needed', undefined, { fields: [{ field: 'reason', why: 'is empty; say in a few words what the take lacks' }] });
  if (slot.decisions !== ask.decisions) throw new Refusal('decided-meanwhile');
  if (offer.removedAt) throw new Refusal('removed-meanwhile', 'The offer was taken back; restore it first.');
  if (ask.trim && (ask.trim.in !== offer.in || ask.trim.outExclusive !== offer.outExclusive)) throw new Refusal('trimmed-meanwhile');

  const decided = ask.verdict === 'open' ? { decidedById: null, decidedAt: null } : { decidedById: ask.by, decidedAt: ask.at };
  const ruling: Ruling = { id: offer.id, verdict: ask.verdict, reason: ask.verdict === 'open' ? '' : reason, ...decided };
  const former = ask.verdict === 'approve' ? pickOf(offers.filter(({ id }) => id !== offer.id)) : undefined;
  return former ? [{ id: former.id, verdict: 'hold', reason: '', decidedById: ask.by, decidedAt: ask.at }, ruling] : [ruling];
}

/**
 * Whether a new trim takes the approval away: what is cut in must be what was approved, so a pick that somebody trims
 * who gives no verdicts waits for one again.
 */
export function trimReopens(offer: { verdict: Said }, mayDecide: boolean): boolean {
  return offer.verdict === 'approve' && !mayDecide;
}

/** The verdict an offer has when it comes back, among the others of its slot. */
export function verdictOnReturn(offer: { verdict: Said }, others: readonly Standing[]): Said {
  return offer.verdict === 'approve' && pickOf(others) ? 'hold' : offer.verdict;
}

function pickOf(offers: readonly Standing[]): Standing | undefined {
  return offers.find(({ verdict, removedAt }) => verdict === 'approve' && !removedAt);
}
