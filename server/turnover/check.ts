// What stands between the film and the cutting room, said before anything leaves.
import { rateText, sameRate } from '#core/rate.ts';
import type { Remark } from './contract.ts';
import type { TurnoverInput } from './input.ts';

/** In the order of the film; each says what it is about, so that a page can lead there. @param handles frames asked for before in and after out */
export function remarksOn({ shots, notes, film, track }: TurnoverInput, handles: number): Remark[] {
  const remarks: Remark[] = [];
  const size = sizeMostUsed(shots);
  for (const { lineId, label, name, take, isSlot } of shots) {
    const slot = `${label} ${name || 'without a name'}`;
    const say = (kind: Remark['kind'], words: string): void => void remarks.push({ kind, words, lineId, clipId: take?.source.clip.id ?? null });
    if (!take) {
      say('empty-slot', isSlot ? `${slot} has no take; a hole is left in its place.` : `${slot} has nothing inside; a hole is left in its place.`);
      continue;
    }
    const { source, range, approved } = take;
    const { clip } = source;
    if (!approved) say('undecided', `${slot} plays ${clip.name}, which nobody has approved.`);
    if (source.original === 'unknown') say('no-original', `${slot}: no camera original is known of ${clip.name}; it is named by the file that was sent.`);
    if (source.offset === null) say('unknown-frames', `${slot}: nothing tells which frame of ${source.name} the frames of ${clip.name} are; its timecode is a guess.`);
    if (!sameRate(source.rate, film.rate)) say('rate', `${slot}: ${source.name} is at ${rateText(source.rate)}, the film at ${rateText(film.rate)}.`);
    if (clip.variableRate) say('variable-rate', `${slot}: ${clip.name} was shot at a rate that varies; its frames are those of the light version.`);
    if (size && clip.width && clip.height && `${clip.width} × ${clip.height}` !== size) say('size', `${slot}: ${clip.name} is ${clip.width} × ${clip.height}, most of the film ${size}.`);
    const [before, after] = [range.in, clip.frames! - range.outExclusive];
    if (Math.min(before, after) < handles) say('handles', `${slot}: ${clip.name} has ${before} frames before and ${after} after; ${handles} are asked for.`);
    const open = notes.filter(({ about, settled }) => !settled && (about === lineId || about === take.offerId)).length;
    if (open) say('open-notes', `${slot} has ${open === 1 ? 'an open note' : `${open} open notes`}.`);
  }
  if (track?.rights === 'missing') remarks.push({ kind: 'rights', words: `The rights to “${track.title}” are marked missing.`, lineId: null, clipId: null });
  return remarks;
}

function sizeMostUsed(shots: TurnoverInput['shots']): string | null {
  const counts = new Map<string, number>();
  for (const { take } of shots) if (take?.source.clip.width) counts.set(`${take.source.clip.width} × ${take.source.clip.height}`, (counts.get(`${take.source.clip.width} × ${take.source.clip.height}`) ?? 0) + 1);
  return [...counts].toSorted((a, b) => b[1] - a[1])[0]?.[0] ?? null;
}
