// What is to be seen to before a film is handed over. Nothing here stops it: a remark can be let go, with a reason.
import { overlaps } from '#core/range.ts';
import { rateText, sameRate } from '#core/rate.ts';
import type { RemarkKind, TurnoverCheck, TurnoverRemark } from './contract.ts';
import { filmLength, placed, type Placed, type PlacedTake } from './files/placed.ts';
import type { InputClip, TurnoverInput } from './input.ts';
import { available, handlesIn } from './source.ts';

type Said = Omit<TurnoverRemark, 'letGo'>;
type Taken = Placed & { readonly take: PlacedTake };

const counted = (n: number, word: string): string => `${n} ${word}${n === 1 ? '' : 's'}`;
const named = ({ line }: Placed): string => line.name || line.label;

/** The film as it would be handed over, with everything that is to be said of it. */
export function checkTurnover(input: TurnoverInput): TurnoverCheck {
  const all = placed(input);
  const taken = all.filter((one): one is Taken => one.take !== null);
  const letGo = new Map(input.letGo.map((one) => [one.key, one]));
  const said = [...ofLines(all, input), ...ofClips(taken, input), ...ofOverlaps(taken), ...ofHandles(taken, input), ...ofRights(taken, input), ...ofNotes(all)];
  const slots = all.filter(({ line }) => line.kind === 'slot');
  return {
    remarks: said.map((one) => {
      const gone = letGo.get(one.key);
      return { ...one, letGo: gone ? { why: gone.why, by: gone.by, at: gone.at } : null };
    }),
    frames: filmLength(input),
    slots: slots.length,
    approved: slots.filter(({ take }) => take?.approved).length,
    originals: new Set(taken.map(({ take }) => fileKey(take))).size,
  };
}

/** `facts` are what the remark rests on besides its kind. */
const remark = (kind: RemarkKind, facts: readonly (string | number)[], text: string, at: Partial<Said> = {}): Said => ({ key: [kind, ...facts].join(' '), kind, text, ...at });

const fileKey = ({ source, clip }: PlacedTake): string => (source.known === 'original' ? `${source.card}/${source.path}` : clip.id);

function ofLines(all: readonly Placed[], { offers }: TurnoverInput): Said[] {
  const offersOf = Map.groupBy(offers.filter(({ verdict }) => verdict !== 'pass'), ({ slotId }) => slotId);
  return all.flatMap((one) => {
    const { line, take } = one;
    if (take?.approved) return [];
    if (line.kind === 'part') return [remark('nothing-inside', [line.id], `${named(one)} has nothing inside, so its length is left empty.`)];
    const up = offersOf.get(line.id)?.length ?? 0;
    const text = take ? `${named(one)} has no pick: ${take.clip.name} goes along as the best of ${counted(up, 'offer')}.` : `${named(one)} has no pick and nothing on offer, so its length is left empty.`;
    return [remark('no-pick', [line.id, take?.offer.id ?? 'empty'], text, { slotId: line.id })];
  });
}

/** One remark a clip, however often it plays. */
function ofClips(taken: readonly Taken[], { film }: TurnoverInput): Said[] {
  const byClip = [...new Map(taken.map(({ take }) => [take.clip.id, take])).values()];
  const usual = mostCommon(byClip.map(({ clip }) => sizeOf(clip)).filter((size) => size !== null));
  return byClip.flatMap(({ clip, source }) => {
    const { id, name, cardId, original } = clip;
    const place = { clipId: id, ...(cardId === null ? {} : { cardId }) };
    const said: Said[] = [];
    if (source.known === 'unmatched') said.push(remark('no-original', [id], `${name} is not matched to a camera original, so the files speak of the clip itself.`, place));
    if (source.offset === null) said.push(remark('original-unplaced', [id, source.path], `Nobody knows which frame of ${source.path} ${name} begins at, so its own timecode is given.`, place));
    if (original !== null && original !== 'own' && original.rate && !sameRate(original.rate, clip.rate))
      said.push(remark('original-rate', [id, rateText(original.rate)], `${name} runs at ${rateText(clip.rate)}, its original ${original.name} at ${rateText(original.rate)}.`, place));
    if (!sameRate(clip.rate, film.rate)) said.push(remark('rate', [id, rateText(clip.rate), rateText(film.rate)], `${name} runs at ${rateText(clip.rate)}, the film at ${rateText(film.rate)}: frames are left out or repeated, and the edit list counts its timecode at ${rateText(film.rate)}.`, place));
    if (clip.variableRate) said.push(remark('variable-rate', [id], `${name} has a variable frame rate: its frames are counted at ${rateText(clip.rate)}, so conform it by time.`, place));
    if (!source.labelled) said.push(remark('no-timecode', [id], `${name} has no timecode, so it is counted from its first frame.`, place));
    const size = sizeOf(clip);
    if (size !== null && usual !== null && size !== usual) said.push(remark('size', [id, size, usual], `${name} is ${size}, most of the film ${usual}.`, place));
    return said;
  });
}

const sizeOf = ({ width, height }: InputClip): string | null => (width && height ? `${width} × ${height}` : null);

/** The most common of some words; of several the one met first. */
function mostCommon(words: readonly string[]): string | null {
  const counts = Map.groupBy(words, (word) => word);
  return [...counts].reduce<[string, number] | null>((best, [word, { length }]) => (best && best[1] >= length ? best : [word, length]), null)?.[0] ?? null;
}

/** Frames of one file that play twice, each stretch against the one before that reaches farthest into it. */
function ofOverlaps(taken: readonly Taken[]): Said[] {
  return [...Map.groupBy(taken, ({ take }) => fileKey(take)).values()].flatMap((uses) => {
    const said: Said[] = [];
    let farthest: Taken | null = null;
    for (const use of uses.toSorted((a, b) => a.take.inSource.in - b.take.inSource.in)) {
      if (farthest && overlaps(farthest.take.inSource, use.take.inSource)) {
        const frames = Math.min(farthest.take.inSource.outExclusive, use.take.inSource.outExclusive) - use.take.inSource.in;
        said.push(remark('overlap', [farthest.take.offer.id, use.take.offer.id, frames], `${named(farthest)} and ${named(use)} share ${counted(frames, 'frame')} of ${use.take.clip.name}.`, { slotId: use.line.id, frame: use.take.range.in }));
      }
      if (!farthest || use.take.inSource.outExclusive > farthest.take.inSource.outExclusive) farthest = use;
    }
    return said;
  });
}

function ofHandles(taken: readonly Taken[], input: TurnoverInput): Said[] {
  return taken.flatMap((one) => {
    const { source, clip, inSource, offer, range } = one.take;
    // Where its beginning or its length is not known, nobody can say what lies beyond.
    if (source.offset === null || source.frames === null) return [];
    const handles = handlesIn(source, input);
    const there = available(source, clip);
    const short = [
      [inSource.in - there.in, 'before'],
      [there.outExclusive - inSource.outExclusive, 'after'],
    ].flatMap(([room, where]) => ((room as number) < handles ? [`${Math.max(0, room as number)} of ${counted(handles, 'frame')} ${where} it`] : []));
    if (short.length === 0) return [];
    return [remark('handles', [offer.id, range.in, range.outExclusive, handles], `${named(one)} has less handle than asked: ${source.name} has ${short.join(', and ')}.`, { slotId: one.line.id, frame: range.in })];
  });
}

function ofRights(taken: readonly Taken[], { track, clearances }: TurnoverInput): Said[] {
  const said: Said[] = [];
  if (track?.rights === 'missing') said.push(remark('rights', ['music', track.id], `The rights to the music are missing: ${track.title}.`, { trackId: track.id }));
  const stateOf = new Map(clearances.filter(({ kind }) => kind === 'location').map(({ name, state }) => [name.toLowerCase(), state]));
  for (const place of new Set(taken.map(({ take }) => take.clip.location).filter(Boolean))) {
    if ((stateOf.get(place.toLowerCase()) ?? 'missing') === 'missing') said.push(remark('rights', ['location', place.toLowerCase()], `The permit for ${place} is missing.`));
  }
  for (const { kind, id, name, state } of clearances) if (kind === 'person' && state === 'missing') said.push(remark('rights', ['person', id], `The release of ${name} is missing.`));
  return said;
}

/** Open notes on what plays, each once. */
function ofNotes(all: readonly Placed[]): Said[] {
  const seen = new Set<string>();
  return all.flatMap((one) =>
    one.notes.flatMap((note) => {
      if (note.settled || seen.has(note.id)) return [];
      seen.add(note.id);
      const short = note.text.length > 120 ? `${note.text.slice(0, 120).trimEnd()}…` : note.text;
      const at = one.take && note.range ? { frame: note.range.in } : {};
      return [remark('note', [note.id], `An open note on ${named(one)}. ${note.by}: ${short}`, note.clipId && !note.offerId ? { clipId: note.clipId, ...at } : { slotId: one.line.id, ...at })];
    }),
  );
}
