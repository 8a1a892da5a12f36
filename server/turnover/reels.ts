// Reel names for edit lists: eight capitals and digits, no two sources under one (ST 258 columns; common practice).
import type { Source } from './input.ts';

const LENGTH = 8;
/** Names that mean something else in an edit list. */
const TAKEN = ['BL', 'BLACK', 'AX', 'BARS'];

/** What a source is called before it is made to fit: its reel, else its card, else the name of its file. */
export const reelNameOf = ({ reel, card, name }: Source): string => reel || card || name.replace(/\.\w+$/, '');

/** The reel name of each source, by its clip's id: the same for sources of one reel, and never the same for two reels. */
export function reelsOf(sources: readonly Source[]): Map<string, string> {
  const byName = new Map<string, string>();
  const used = new Set<string>(TAKEN);
  for (const name of [...new Set(sources.map(reelNameOf))].sort()) {
    const plain = name.normalize('NFKD').toUpperCase().replace(/[^A-Z0-9]/g, '') || 'REEL';
    let reel = plain.slice(0, LENGTH);
    for (let n = 2; used.has(reel); n++) reel = plain.slice(0, LENGTH - String(n).length) + String(n);
    used.add(reel);
    byName.set(name, reel);
  }
  return new Map(sources.map((source) => [source.clip.id, byName.get(reelNameOf(source))!]));
}
