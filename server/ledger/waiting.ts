import { slotState } from '#core/slot-state.ts';
import type { Action } from '../access/contract.ts';
import type { Waiting } from './contract.ts';
import type { AddressedNote, OfferLine, SlotRow, Unseen } from './store.ts';

const EXCERPT = 140;

export interface Work {
  slots: readonly SlotRow[];
  offers: readonly OfferLine[];
  offersOf: ReadonlyMap<string, OfferLine[]>;
  addressed: readonly AddressedNote[];
  failedClips: readonly { id: string; name: string; failure: unknown; receivedAt: Date }[];
  unseen: Unseen;
}

/**
 * What waits on a person: notes that name them, then what their role is there for. Directors have verdicts to give;
 * who prepares the film without giving verdicts has slots to fill and rushes to watch; whoever sent a clip that failed
 * has to see to it.
 */
export function waitingOn(can: ReadonlySet<Action>, work: Work): Waiting[] {
  const decides = can.has('verdicts.give');
  return [
    ...work.addressed.map(toNoteWaiting),
    ...work.failedClips.map(toFailed),
    ...(decides ? verdictsDue(work) : []),
    ...(!decides && can.has('selects.edit') ? unwatched(work.unseen) : []),
    ...(!decides && can.has('offers.edit') ? emptySlots(work) : []),
  ];
}

function verdictsDue({ slots, offers }: Work): Waiting[] {
  const nameOf = new Map(slots.map(({ id, name }) => [id, name]));
  return offers
    .filter(({ verdict, slotId }) => verdict === 'open' && nameOf.has(slotId))
    .map(({ id, slotId, clipId, clipName, in: frame, offeredAt }) => ({
      kind: 'verdict',
      text: `${nameOf.get(slotId)}: ${clipName} is offered`,
      slotId,
      offerId: id,
      clipId,
      frame,
      since: offeredAt.toISOString(),
    }));
}

function emptySlots({ slots, offersOf }: Work): Waiting[] {
  return slots
    .filter(({ id }) => slotState(offersOf.get(id) ?? []).is === 'empty')
    .map(({ id, name, createdAt }) => ({ kind: 'empty-slot', text: `${name}: nothing is offered`, slotId: id, since: createdAt.toISOString() }));
}

function unwatched({ unseenClips, next }: Unseen): Waiting[] {
  if (!next) return [];
  const text = unseenClips === 1 ? 'One clip has frames nobody has watched' : `${unseenClips} clips have frames nobody has watched`;
  return [{ kind: 'unseen', text, clipId: next.clipId, frame: next.frame, since: next.since.toISOString() }];
}

function toNoteWaiting({ id, clipId, offerId, slotId, frame, text, author, writtenAt }: AddressedNote): Waiting {
  const short = text.length > EXCERPT ? `${text.slice(0, EXCERPT).trimEnd()}…` : text;
  return {
    kind: 'note',
    text: `${author}: ${short}`,
    noteId: id,
    ...(clipId === null ? {} : { clipId }),
    ...(offerId === null ? {} : { offerId }),
    ...(slotId === null ? {} : { slotId }),
    ...(frame === null ? {} : { frame }),
    since: writtenAt.toISOString(),
  };
}

function toFailed({ id, name, failure, receivedAt }: Work['failedClips'][number]): Waiting {
  const reason = (failure as { reason?: string } | null)?.reason;
  return { kind: 'failed-clip', text: reason ? `${name}: ${reason}` : `${name} has no proxy`, clipId: id, since: receivedAt.toISOString() };
}
