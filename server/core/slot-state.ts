/** What is said of an offer; `open` is nothing yet. */
export type Said = 'open' | 'approve' | 'hold' | 'pass';

/** As much of an offer as the state of its slot depends on. */
export type Standing = { readonly verdict: Said; readonly removedAt?: string | Date | null };

/**
 * Where a slot stands:
 * - `empty`: nothing is up for it, or everything that was has been passed, so it still lacks a shot;
 * - `offered`: `count` offers are up, none approved;
 * - `approved`: it has a pick, and `count` offers are up in all.
 */
export type SlotState<T> = { readonly is: 'empty' } | { readonly is: 'offered'; readonly count: number } | { readonly is: 'approved'; readonly count: number; readonly pick: T };

/** The state of a slot from its offers, in any order; removed ones count for nothing. */
export function slotState<T extends Standing>(offers: readonly T[]): SlotState<T> {
  const up = offers.filter((offer) => !offer.removedAt && offer.verdict !== 'pass');
  const pick = up.find((offer) => offer.verdict === 'approve');
  if (pick) return { is: 'approved', count: up.length, pick };
  return up.length === 0 ? { is: 'empty' } : { is: 'offered', count: up.length };
}
