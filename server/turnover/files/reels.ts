// Reel names of an edit list: eight characters, capitals and digits (common practice; ST 258M-2004 limits a line's fields
// and its text to 7-bit ASCII).
import type { Source } from '../source.ts';
import { toAscii } from './ascii.ts';

export const REEL_LENGTH = 8;
/** Names that mean something else to readers of edit lists: black, bars, no reel in particular. */
const TAKEN = new Set(['BL', 'BLACK', 'BARS', 'AX', 'NONE']);
/** For a source without a reel, a card or a name that could stand for one. */
export const NO_REEL = 'AX';

const plain = (reel: string): string => toAscii(reel).toUpperCase().replaceAll(/[^A-Z0-9]/g, '');

/**
 * A name for each reel, by what the camera wrote. What fits is kept; what is too long is cut at its end; where two would be
 * one, all but the first of them (by name) end in a number.
 * @returns by the reel of `Source`
 */
export function reelNames(sources: readonly Pick<Source, 'reel'>[]): Map<string, string> {
  const names = new Map<string, string>();
  const used = new Set<string>(TAKEN);
  const reels = [...new Set(sources.map(({ reel }) => reel))].sort((a, b) => (a < b ? -1 : 1));
  // Those that stay as they are come first, so that no shortened one takes their name.
  const asTheyAre = reels.filter((reel) => plain(reel) === reel && reel !== '' && reel.length <= REEL_LENGTH && !TAKEN.has(reel));
  for (const reel of [...asTheyAre, ...reels.filter((reel) => !asTheyAre.includes(reel))]) {
    const name = plain(reel);
    if (name === '') {
      names.set(reel, NO_REEL);
      continue;
    }
    let candidate = name.slice(0, REEL_LENGTH);
    for (let n = 2; used.has(candidate); n++) candidate = `${name.slice(0, REEL_LENGTH - String(n).length)}${n}`;
    used.add(candidate);
    names.set(reel, candidate);
  }
  return names;
}
