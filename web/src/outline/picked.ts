import { convertFrames } from '#core/rate.ts';
import type { Mirror } from '../live/mirror.svelte.ts';
import type { ItemLine } from './words.ts';

/** What stands in a line already. */
export interface Picked {
  /** Slots in it that have a pick. */
  readonly slots: number;
  /** Length of those picks, each in whole frames of the film. */
  readonly frames: number;
  /** What the budget gives those slots. */
  readonly planned: number;
}

/** Picks against the plan, for every line that has any in it. */
export function pickedIn(film: Mirror, lines: readonly ItemLine[]): ReadonlyMap<string, Picked> {
  const picked = new Map<string, Picked>();
  for (const { row, parent } of lines) {
    const pick = row.kind === 'slot' ? film.pickOf(row.id) : null;
    const rate = pick && film.clips.get(pick.clipId)?.rate;
    if (!pick || !rate) continue;
    const frames = convertFrames(pick.outExclusive - pick.in, rate, film.row.rate);
    const planned = film.plannedFor(row.id);
    picked.set(row.id, { slots: 1, frames, planned });
    for (let part = parent; part; part = part.parent) {
      const so = picked.get(part.row.id) ?? { slots: 0, frames: 0, planned: 0 };
      picked.set(part.row.id, { slots: so.slots + 1, frames: so.frames + frames, planned: so.planned + planned });
    }
  }
  return picked;
}
