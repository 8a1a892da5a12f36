import type { Offer } from '#contract/offers';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say } from '../ui/say.svelte.ts';

const SAID: Record<Offer['verdict'], string> = { open: 'took the verdict back on', approve: 'approved', hold: 'put on hold', pass: 'passed on' };

/**
 * Tells this person of the verdicts of others that concern them: on what they offered, and when a pick they offered or
 * approved gave way to another. Stops with the function answered.
 */
export function tellOfVerdicts(film: FilmState): () => void {
  // An event says how rows stand after it; who had approved the pick that gave way is known only from before.
  const approvedBy = new Map<string, string | null>();
  const remember = (offer: Offer) => (offer.verdict === 'approve' && !offer.removedAt ? approvedBy.set(offer.id, offer.decidedById) : approvedBy.delete(offer.id));
  for (const offer of film.offers.values()) remember(offer);
  const me = film.mine.userId;

  return film.listen((event) => {
    const offers = event.rows.offers ?? [];
    const given = offers.find(({ id }) => id === event.subject);
    if (event.kind === 'verdict.given' && given && event.actorId !== me) {
      const who = film.nameOf(event.actorId);
      const slot = film.items.get(given.slotId)?.name ?? 'a slot';
      const nameOf = (offer: Offer) => film.clips.get(offer.clipId)?.name ?? 'a take';
      const former = offers.find(({ id }) => id !== given.id);
      if (former && (former.offeredById === me || approvedBy.get(former.id) === me)) say(`${who} approved ${nameOf(given)} for ${slot}; ${nameOf(former)}, the pick until now, is on hold.`);
      else if (given.offeredById === me) say(`${who} ${SAID[given.verdict]} ${nameOf(given)}, your offer for ${slot}${given.reason ? `: “${given.reason}”` : ''}.`);
    }
    offers.forEach(remember);
  });
}
