import type { FrameRange } from '#core/range.ts';
import type { Rate } from '#core/rate.ts';
import { Refusal, type ErrorCode } from '../../platform/errors.ts';

/** Something that plays in a cut. */
export interface CutEvent {
  /** All it may be known by: name of the clip, names of its files. */
  readonly names: readonly string[];
  readonly reel: string | null;
  /** The offer it came from, where the file still says so. */
  readonly offerId: string | null;
  /** Frames of the film, from where the cut begins. */
  readonly record: FrameRange;
  /** Timecode at which it begins in the cut. */
  readonly recordIn: string;
  /**
   * Where it begins in its source, counted from 00:00:00:00: as an edit list labels it (`list`, at the film's rate), or in
   * the source's own frames (`own`), then with the first frame of the media where the file says it.
   */
  readonly source: { readonly counts: 'list'; readonly frame: number; readonly drop: boolean } | { readonly counts: 'own'; readonly frame: number; readonly rate: Rate; readonly mediaStart: number | null };
  /** It plays at another speed than it was shot. */
  readonly speed: boolean;
}

export interface Cut {
  readonly title: string;
  /** Length in frames of the film. */
  readonly frames: number;
  readonly events: readonly CutEvent[];
}

/** What a film counts in. */
export interface Counting {
  readonly rate: Rate;
  readonly drop: boolean;
}

/** Characters of all files of a cut together. */
export const CUT_CHARACTERS = 32 * 1024 * 1024;
/** Items of a timeline, or events of a list. */
export const CUT_EVENTS = 20_000;

export const fault = (code: Extract<ErrorCode, `cut-${string}`>, where: string, why: string): Refusal => new Refusal(code, `${where}: ${why}`, { fields: [{ field: where, why }] });
