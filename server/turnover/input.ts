import type { FrameRange } from '#core/range.ts';
import type { Rate } from '#core/rate.ts';
import type { Said } from '#core/slot-state.ts';
import type { Stretch } from '#core/string-out.ts';
import type { MarkKind, Rights } from '../music/contract.ts';
import type { OriginalOf } from '../originals/index.ts';

/*
 * All that a turnover is made of, as of one moment. Every file is a pure function of it, so the same film gives the same
 * bytes; dates in files are those of the newest event, never of the clock on the wall.
 */
export interface TurnoverInput {
  readonly film: {
    readonly id: string;
    readonly title: string;
    readonly rate: Rate;
    readonly drop: boolean;
    readonly invented: boolean;
    /** Frames of the film that go along before and after every take. */
    readonly handles: number;
    /** Number and moment of the newest event. */
    readonly seq: number;
    readonly at: string;
  };
  /** The outline from top to bottom. */
  readonly lines: readonly InputLine[];
  /** What plays, from frame 0 of the film. */
  readonly stretches: readonly Stretch[];
  /** Every clip that is there, by day, camera and moment. */
  readonly clips: readonly InputClip[];
  /** By clip as above, then by place in it. */
  readonly selects: readonly InputSelect[];
  readonly offers: readonly InputOffer[];
  /** In the order they were written; replies are inside the notes they answer. */
  readonly notes: readonly InputNote[];
  /** The locked track; null for none. */
  readonly track: InputTrack | null;
  readonly clearances: readonly InputClearance[];
  readonly letGo: readonly InputLetGo[];
}

export interface InputLine {
  readonly id: string;
  readonly kind: 'part' | 'slot';
  /** Its number: "2.1" is the first line in the second sequence. */
  readonly label: string;
  readonly depth: number;
  readonly name: string;
  /** Name of the top-level line it belongs to. */
  readonly sequence: string;
  readonly mustShow: string;
  readonly comesIn: string;
  readonly goesOut: string;
  /** What its budget gives it, in frames of the film. */
  readonly frames: number;
}

export interface InputClip {
  readonly id: string;
  readonly name: string;
  readonly camera: string;
  readonly card: string;
  /** The card's own page; null where clips only carry its name. */
  readonly cardId: string | null;
  /** YYYY-MM-DD. */
  readonly shootDay: string | null;
  readonly location: string;
  /** Null for a clip that was not measured yet, as `frames`. */
  readonly rate: Rate | null;
  readonly variableRate: boolean;
  readonly frames: number | null;
  readonly startFrame: number;
  readonly drop: boolean;
  /** Whether its file has a timecode; otherwise it is counted from 0. */
  readonly labelled: boolean;
  readonly width: number | null;
  readonly height: number | null;
  readonly audioChannels: number;
  readonly reel: string | null;
  readonly bytes: number;
  readonly xxh64: string;
  /** Why nothing in it is usable; null for a clip that is not put aside. */
  readonly aside: string | null;
  /** Its camera original; `own` where its file is the original, null where nobody knows. */
  readonly original: OriginalOf | 'own' | null;
}

export interface InputSelect extends FrameRange {
  readonly id: string;
  readonly clipId: string;
  readonly circled: boolean;
  readonly label: string;
  readonly by: string;
  readonly at: string;
}

export interface InputOffer extends FrameRange {
  readonly id: string;
  readonly slotId: string;
  readonly selectId: string;
  readonly clipId: string;
  readonly verdict: Said;
  readonly reason: string;
  /** Who decided, and when; null where nobody has. */
  readonly decidedBy: string | null;
  readonly decidedAt: string | null;
  readonly cutInAt: string | null;
}

export interface InputNote {
  readonly id: string;
  readonly clipId: string | null;
  readonly offerId: string | null;
  readonly slotId: string | null;
  /** Frames of the clip; null for a note on the whole of it, or on a slot. */
  readonly range: FrameRange | null;
  readonly text: string;
  readonly by: string;
  readonly at: string;
  readonly settled: boolean;
  readonly replies: readonly { readonly text: string; readonly by: string; readonly at: string }[];
}

export interface InputTrack {
  readonly id: string;
  readonly name: string;
  readonly title: string;
  readonly maker: string;
  readonly licence: string;
  readonly rights: Rights;
  readonly bytes: number;
  readonly xxh64: string;
  readonly lengthMs: number | null;
  /** By their moment. */
  readonly marks: readonly { readonly id: string; readonly kind: MarkKind; readonly atMs: number; readonly untilMs: number | null; readonly name: string }[];
}

/** A permit or a release; those of music stand with the track. */
export interface InputClearance {
  readonly id: string;
  readonly kind: 'location' | 'person';
  readonly name: string;
  readonly state: Rights;
  /** Where the paper is, and what it says. */
  readonly words: string;
}

/** A remark of the check that somebody lets go, by its key. */
export interface InputLetGo {
  readonly key: string;
  readonly why: string;
  readonly by: string;
  readonly at: string;
}

/** One file of a turnover. */
export interface TurnoverFile {
  readonly name: string;
  /** Media type with its charset. */
  readonly type: string;
  readonly text: string;
}
