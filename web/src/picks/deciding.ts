import type { Item } from '#contract/outline';
import type { Offer } from '#contract/offers';
import { ApiProblem } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

export type Said = Offer['verdict'];
const WORDS: Record<Said, string> = { open: 'Verdict taken back', approve: 'Approved', hold: 'On hold', pass: 'Passed' };

/** What a verdict was decided on: the slot and the offer as they stood on this screen. */
export interface Standing {
  slot: Item;
  offer: Offer;
}

/**
 * Gives a verdict on an offer as it stands on this screen; its undo also gives the former pick its place back.
 * @returns whether it stands; when somebody was first, what they decided is said and shown instead.
 */
export async function decide(film: FilmState, { slot, offer }: Standing, verdict: Said, reason = ''): Promise<boolean> {
  const before = film.offers.get(offer.id) ?? offer;
  const pick = film.pickOf(slot.id);
  const former = verdict === 'approve' && pick?.id !== offer.id ? pick : null;
  const stepped = former ? ` ${film.clips.get(former.clipId)?.name ?? 'The former pick'} is on hold now.` : '';
  return tried(
    () => toldWhoWasFirst(film, () => give(film, { slot, offer }, verdict, reason)),
    () =>
      say(`${WORDS[verdict]}.${stepped}`, {
        undo: async () => {
          await give(film, standing(film, slot.id, offer.id), before.verdict, before.reason);
          if (former) await give(film, standing(film, slot.id, former.id), 'approve', former.reason);
        },
      }),
  );
}

/** When somebody was first, what they did is shown, and is what the failure says. */
async function toldWhoWasFirst(film: FilmState, change: () => Promise<void>): Promise<void> {
  try {
    await change();
  } catch (error) {
    if (!(error instanceof ApiProblem) || (error.code !== 'decided-meanwhile' && error.code !== 'trimmed-meanwhile')) throw error;
    show(film, error);
    throw new Error(error.code === 'decided-meanwhile' ? whatHappened(film, error) : `${error.detail} Look again, and decide again if you still want to.`, { cause: error });
  }
}

/** Sends a verdict, and waits until the page shows the slot after it. */
async function give(film: FilmState, { slot, offer }: Standing, verdict: Said, reason: string): Promise<void> {
  const { promise: counted, resolve: count } = Promise.withResolvers<void>();
  const stop = film.listen(() => {
    if ((film.items.get(slot.id)?.decisions ?? Infinity) > slot.decisions) count();
  });
  try {
    // What is decided on is what is shown: trims that are on their way arrive first.
    await film.strokes.outbox.send();
    await film.api.post(`/offers/${offer.id}/verdict`, { verdict, reason, decisions: slot.decisions, trim: { in: offer.in, outExclusive: offer.outExclusive } });
    await counted;
  } finally {
    stop();
  }
}

function standing(film: FilmState, slotId: string, offerId: string): Standing {
  const [slot, offer] = [film.items.get(slotId), film.offers.get(offerId)];
  if (!slot || !offer) throw new Error('The slot or the offer is gone, so the verdict cannot be taken back.');
  return { slot, offer };
}

/** Shows the slot as the refusal says it stands, unless the page knows newer. */
function show(film: FilmState, problem: ApiProblem): void {
  const { slot, offers = [] } = problem.more as { slot?: Item; offers?: Offer[] };
  if (slot && slot.decisions > (film.items.get(slot.id)?.decisions ?? -1)) film.upsert({ items: [slot], offers });
}

function whatHappened(film: FilmState, problem: ApiProblem): string {
  const offers = (problem.more['offers'] ?? []) as Offer[];
  const [latest] = offers.filter(({ decidedAt }) => decidedAt).toSorted((a, b) => (a.decidedAt! < b.decidedAt! ? 1 : -1));
  if (!latest) return 'Somebody took a verdict back in this slot a moment ago. It is shown as it stands now.';
  const clip = film.clips.get(latest.clipId)?.name ?? 'a take';
  // An approval and the hold of the pick before it have one time; the approval is what was decided.
  const shown = offers.find(({ verdict, decidedAt }) => verdict === 'approve' && decidedAt === latest.decidedAt) ?? latest;
  const verb = { open: 'took back', approve: 'approved', hold: 'put on hold', pass: 'passed on' }[shown.verdict];
  return `${film.nameOf(shown.decidedById)} ${verb} ${film.clips.get(shown.clipId)?.name ?? clip} a moment ago. The slot is shown as it stands now; decide again if you still want to.`;
}
