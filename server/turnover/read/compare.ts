// What became of each slot in a cut that came back. Pure: nothing is changed by comparing.
import type { FrameRange } from '#core/range.ts';
import { convertFrames, type Rate } from '#core/rate.ts';
import { dayFrames } from '#core/timecode.ts';
import type { CutRead, CutSlot } from '../contract.ts';
import { toAscii } from '../files/ascii.ts';
import { placed, type Placed, type PlacedTake } from '../files/placed.ts';
import { reelNames } from '../files/reels.ts';
import type { TurnoverInput } from '../input.ts';
import { available, listFrame } from '../source.ts';
import type { Cut, CutEvent } from './cut.ts';

/** What was handed over for a slot, with what an event is laid on it by, worked out once: a cut may be laid on thousands. */
type Taken = Placed & {
  readonly take: PlacedTake;
  /** Its first frame as an edit list labels it, and frames in a day of such labels. */
  readonly handed: { readonly frame: number; readonly day: number };
  /** What there is of its source. */
  readonly there: FrameRange;
};

/** An event of the cut that is taken for a slot's shot. `from`: frames of the film by which it begins after that shot does. */
interface Found {
  event: CutEvent;
  from: number;
  overlap: number;
}

/** A name as both a file and an edit list can hold it, without its ending. */
const stem = (name: string): string => toAscii(name).toLowerCase().replace(/\.[a-z0-9]{1,5}$/, '');

/** Compares a cut with what was handed over: per slot in outline order, and what is new in it. */
export function compareCut(input: TurnoverInput, cut: Cut): CutRead {
  const all = placed(input);
  const taken = all.flatMap((one) => (one.take ? toTaken({ ...one, take: one.take }, input) : []));
  const takenOf = new Map(taken.map((one) => [one.line.id, one]));
  const { found, added } = assign(taken, cut, input);
  const moved = outOfPlace(taken.flatMap((one) => (found.has(one) ? [{ one, at: found.get(one)![0]!.event.record.in }] : [])));
  return {
    title: cut.title,
    frames: cut.frames,
    slots: all.filter(({ line }) => line.kind === 'slot').map((one) => {
      const of = takenOf.get(one.line.id);
      return slotOf(one, (of && found.get(of)) ?? [], of !== undefined && moved.has(of));
    }),
    added: added.map(({ names, reel, recordIn, record }) => ({ name: names[0] ?? '', reel: reel ?? '', recordIn, frames: record.outExclusive - record.in })),
  };
}

function toTaken(one: Placed & { readonly take: PlacedTake }, { film }: TurnoverInput): Taken {
  const { source, inSource, clip } = one.take;
  const { frame, drop } = listFrame(inSource.in, source, film);
  return { ...one, handed: { frame, day: dayFrames(film.rate, drop) }, there: available(source, clip) };
}

function slotOf({ line, film, take }: Placed, found: readonly Found[], moved: boolean): CutSlot {
  const was = take ? film.outExclusive - film.in : 0;
  const lengths = found.map(({ event: { record } }) => record.outExclusive - record.in);
  const here = found.some(({ overlap }) => overlap > 0);
  return {
    slotId: line.id,
    number: line.label,
    name: line.name,
    offerId: take?.offer.id ?? null,
    is: !take ? 'was-empty' : found.length === 0 ? 'gone' : here ? 'in' : 'other-stretch',
    was,
    now: lengths.reduce((sum, length) => sum + length, 0),
    head: found.length ? 0 - Math.min(...found.map(({ from }) => from)) : 0,
    tail: found.length ? Math.max(...found.map(({ from }, n) => from + lengths[n]!)) - was : 0,
    pieces: found.length,
    moved,
    speed: found.some(({ event }) => event.speed),
    recordIn: found[0]?.event.recordIn ?? null,
    cutIn: take !== null && take.offer.cutInAt !== null,
  };
}

/** Which event is whose: first what shares frames with a slot's shot, then other stretches of a clip whose slot has none. */
function assign(taken: readonly Taken[], cut: Cut, input: TurnoverInput): { found: Map<Taken, Found[]>; added: CutEvent[] } {
  const reels = reelNames(taken.map(({ take }) => take.source));
  const byOffer = new Map(taken.map((one) => [one.take.offer.id, one]));
  const byName = new Map<string, Taken[]>();
  const byReel = Map.groupBy(taken, ({ take }) => (reels.get(take.source.reel) ?? '').toUpperCase());
  for (const one of taken) {
    for (const name of new Set([one.take.clip.name, one.take.source.name].map(stem))) {
      const known = byName.get(name);
      if (known) known.push(one);
      else byName.set(name, [one]);
    }
  }

  const found = new Map<Taken, Found[]>();
  const add = (one: Taken, event: CutEvent): void => void found.set(one, [...(found.get(one) ?? []), { event, ...laidOn(event, one, input) }]);
  const left: { event: CutEvent; candidates: Taken[] }[] = [];
  for (const event of cut.events) {
    const named = new Set(event.names.flatMap((name) => byName.get(stem(name.split(/[/\\]/).at(-1)!)) ?? []));
    const candidates = [...(named.size > 0 ? named : event.names.length === 0 ? (byReel.get((event.reel ?? '').toUpperCase()) ?? []) : [])];
    const said = event.offerId === null ? undefined : byOffer.get(event.offerId);
    // A room may lay another clip where ours was and keep our words on it.
    const ours = said && (named.size === 0 || named.has(said)) ? said : undefined;
    if (ours && laidOn(event, ours, input).overlap > 0) {
      add(ours, event);
      continue;
    }
    const best = candidates.map((one) => ({ one, overlap: laidOn(event, one, input).overlap })).reduce<{ one: Taken; overlap: number } | null>((a, b) => (a && a.overlap >= b.overlap ? a : b), null);
    if (best && best.overlap > 0) add(best.one, event);
    else left.push({ event, candidates: ours ? [ours] : candidates });
  }
  const added: CutEvent[] = [];
  for (const { event, candidates } of left) {
    const distance = (one: Taken): number => Math.abs(laidOn(event, one, input).from);
    const free = candidates.filter((one) => !(found.get(one) ?? []).some(({ overlap }) => overlap > 0)).sort((a, b) => distance(a) - distance(b));
    if (free[0]) add(free[0], event);
    else added.push(event);
  }
  for (const list of found.values()) list.sort((a, b) => a.event.record.in - b.event.record.in);
  return { found, added };
}

/** Where an event lies against a slot's shot, in frames of the film. */
function laidOn(event: CutEvent, one: Taken, input: TurnoverInput): Omit<Found, 'event'> {
  const { film } = one;
  const from = startsAfter(event, one, input);
  const length = event.record.outExclusive - event.record.in;
  return { from, overlap: Math.max(0, Math.min(from + length, film.outExclusive - film.in) - Math.max(from, 0)) };
}

function startsAfter({ source: at }: CutEvent, { take, handed, there }: Taken, { film }: TurnoverInput): number {
  if (at.counts === 'list') {
    const apart = (((at.frame - handed.frame) % handed.day) + handed.day) % handed.day;
    return apart > handed.day / 2 ? apart - handed.day : apart;
  }
  const { source, inSource } = take;
  const onClock = conformed(at.frame, at.rate, source.rate);
  // Some rooms count from the first frame of their media instead of by its timecode.
  const frame = at.mediaStart === null || (onClock >= there.in && onClock < there.outExclusive) ? onClock : conformed(at.frame - at.mediaStart, at.rate, source.rate) + there.in;
  return conformed(frame - inSource.in, source.rate, film.rate);
}

const conformed = (frames: number, from: Rate, to: Rate): number => (from.num === to.num && from.den === to.den ? frames : convertFrames(frames, from, to));

/** Those that do not stand in the order of the outline: all but a longest row that does. */
function outOfPlace(list: readonly { one: Taken; at: number }[]): Set<Taken> {
  // Patience sorting: `tails[k]` ends the row of k + 1 that ends earliest.
  const tails: number[] = [];
  const before: number[] = [];
  for (const [n, { at }] of list.entries()) {
    let [low, high] = [0, tails.length];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (list[tails[middle]!]!.at < at) low = middle + 1;
      else high = middle;
    }
    before[n] = low > 0 ? tails[low - 1]! : -1;
    tails[low] = n;
  }
  const kept = new Set<number>();
  for (let n = tails.at(-1) ?? -1; n >= 0; n = before[n]!) kept.add(n);
  return new Set(list.filter((_, n) => !kept.has(n)).map(({ one }) => one));
}
