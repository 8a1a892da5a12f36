// Where a clip lies in what the cutting room opens: its camera original, on the clock of that file.
import type { FrameRange } from '#core/range.ts';
import { convertFrames, nominal, sameRate, type Rate } from '#core/rate.ts';
import { canDrop, formatTimecode, parseTimecode } from '#core/timecode.ts';
import type { InputClip, TurnoverInput } from './input.ts';

/** The file a clip was made from, as far as it is known, on its own clock. */
export interface Source {
  /** What the clip is known by: `original` is matched to another file, `own` is the original itself, `unmatched` neither. */
  readonly known: 'original' | 'own' | 'unmatched';
  readonly name: string;
  /** Path on its card, with `/` between names. */
  readonly path: string;
  readonly card: string;
  /** Reel as the camera wrote it, else the card; empty for neither. */
  readonly reel: string;
  readonly rate: Rate;
  /** Number of its first frame, counted from 00:00:00:00. */
  readonly startFrame: number;
  readonly drop: boolean;
  /** Whether that number is from a timecode; otherwise it is 0. */
  readonly labelled: boolean;
  /** Frame 0 of the clip is this frame of the file; null where a person joined them and nothing tells. */
  readonly offset: number | null;
  /** How many frames it has; null where nobody knows. */
  readonly frames: number | null;
  readonly bytes: number | null;
  readonly xxh64: string | null;
}

/** A clip that was measured. */
export type MeasuredClip = InputClip & { readonly rate: Rate; readonly frames: number };

export const isMeasured = (clip: InputClip): clip is MeasuredClip => clip.rate !== null && clip.frames !== null;

/** Where a clip lies in its camera original, or in its own file where that is not known. */
export function sourceOf(clip: MeasuredClip): Source {
  const { original } = clip;
  const own = { name: clip.name, path: clip.name, card: clip.card, reel: clip.reel ?? clip.card, rate: clip.rate, startFrame: clip.startFrame, drop: clip.drop, labelled: clip.labelled };
  if (original === null || original === 'own') return { ...own, known: original ?? 'unmatched', offset: 0, frames: clip.frames, bytes: clip.bytes, xxh64: clip.xxh64 };
  const { offset, start, length } = original;
  const about = { known: 'original' as const, name: original.name, path: original.path, card: original.card, reel: original.reel ?? clip.reel ?? original.card, bytes: original.bytes, xxh64: original.xxh64 };
  // Without an offset the clip's frames are counted as its own file counts them: the only clock there is.
  if (offset === null) return { ...own, ...about, offset, frames: null };
  const rate = original.rate ?? clip.rate;
  const clock = start ? { startFrame: start.frame, drop: start.drop, labelled: true } : { startFrame: clip.labelled ? clip.startFrame - offset : 0, drop: clip.drop, labelled: clip.labelled };
  const frames = length === null ? null : 'frames' in length ? length.frames : Math.floor((length.seconds * rate.num) / rate.den);
  return { ...about, ...clock, rate, offset, frames };
}

/** A range of the clip in frames of its source, counted from 00:00:00:00 and on beyond midnight. */
export function inSource(source: Source, { in: first, outExclusive }: FrameRange): FrameRange {
  const shift = source.startFrame + (source.offset ?? 0);
  return { in: first + shift, outExclusive: outExclusive + shift };
}

/** What there is of the source, as `inSource` counts it; where its length is not known, what the clip shows of it. */
export function available(source: Source, clip: MeasuredClip): FrameRange {
  if (source.frames === null) return inSource(source, { in: 0, outExclusive: clip.frames });
  return { in: source.startFrame, outExclusive: source.startFrame + source.frames };
}

/** Timecode of a frame of the source, counted as `inSource` does. */
export const sourceLabel = (frame: number, { rate, drop }: Pick<Source, 'rate' | 'drop'>): string => formatTimecode(frame, rate, { drop });

type Counting = { readonly rate: Rate; readonly drop: boolean };

/**
 * The label of a source's frame in a list that counts at another rate. Hours, minutes and seconds are what is written on
 * the source, so they stay; its frame field is scaled to the frames of a second there. At rates that count alike nothing
 * changes. Labels that drop-frame leaves out fall on the first one there is.
 * @returns the frame number that label names in the list, and whether it is counted with drop
 */
export function listFrame(frame: number, source: Counting, list: Counting): { frame: number; drop: boolean } {
  if (sameRate(source.rate, list.rate) || nominal(source.rate) === nominal(list.rate)) {
    const drop = source.drop && canDrop(list.rate);
    if (drop === source.drop) return { frame, drop };
  }
  const label = sourceLabel(frame, source);
  const [field] = /\d+$/.exec(label)!;
  const scaled = Math.floor((Number(field) * nominal(list.rate)) / nominal(source.rate));
  const drop = source.drop && canDrop(list.rate);
  const [hours, minutes, seconds] = label.split(/[:;]/);
  const left = nominal(list.rate) / 15;
  const absent = drop && seconds === '00' && Number(minutes) % 10 !== 0 && scaled < left;
  const width = Math.max(2, String(nominal(list.rate) - 1).length);
  const text = `${hours}:${minutes}:${seconds}${drop ? ';' : ':'}${String(absent ? left : scaled).padStart(width, '0')}`;
  return { frame: parseTimecode(text, list.rate, { drop }).frame, drop };
}

/** Frames of handle in a source's own rate. */
export const handlesIn = (source: Source, { film }: TurnoverInput): number => convertFrames(film.handles, film.rate, source.rate);

/** Frame number of the film's first frame: films begin at one hour (common practice, no source). */
export const filmStart = ({ film }: TurnoverInput): number => parseTimecode('01:00:00:00', film.rate, { drop: film.drop }).frame;

/** Timecode of a frame of the film. */
export const filmLabel = (frame: number, input: TurnoverInput): string => formatTimecode(filmStart(input) + frame, input.film.rate, { drop: input.film.drop });
