import { convertFrames, type Rate } from '#core/rate.ts';
import { slotState } from '#core/slot-state.ts';
import type { SequenceLine } from './contract.ts';
import type { NoteLine, OfferLine, SlotRow } from './store.ts';

export interface Counts {
  slots: number;
  offered: number;
  approved: number;
  pickedFrames: number;
}

/**
 * Counts over some slots. Each pick is converted to the rate of the film by itself, since each is cut in as whole
 * frames of the film.
 */
export function countSlots(slots: readonly SlotRow[], offersOf: ReadonlyMap<string, OfferLine[]>, filmRate: Rate): Counts {
  const counts: Counts = { slots: slots.length, offered: 0, approved: 0, pickedFrames: 0 };
  for (const slot of slots) {
    const state = slotState(offersOf.get(slot.id) ?? []);
    if (state.is === 'empty') continue;
    counts.offered += 1;
    if (state.is === 'offered') continue;
    counts.approved += 1;
    counts.pickedFrames += convertFrames(state.pick.outExclusive - state.pick.in, state.pick.rate, filmRate);
  }
  return counts;
}

/** One line a sequence, in the order given. */
export function sequenceLines(
  sequences: readonly Pick<SequenceLine, 'id' | 'name' | 'role' | 'plannedFrames'>[],
  { slots, offersOf, notes, filmRate }: { slots: readonly SlotRow[]; offersOf: ReadonlyMap<string, OfferLine[]>; notes: readonly NoteLine[]; filmRate: Rate },
): SequenceLine[] {
  const sequenceOf = new Map(slots.map(({ id, sequenceId }) => [id, sequenceId]));
  return sequences.map(({ id, name, role, plannedFrames }) => ({
    id,
    name,
    role,
    plannedFrames,
    ...countSlots(slots.filter(({ sequenceId }) => sequenceId === id), offersOf, filmRate),
    openNotes: notes.filter(({ slotId }) => slotId !== null && sequenceOf.get(slotId) === id).length,
  }));
}
