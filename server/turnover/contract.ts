import { Type, type Static } from 'typebox';
import { RIGHTS } from '../music/contract.ts';

const only = { additionalProperties: false } as const;
const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const id = Type.String({ minLength: 1, maxLength: 64 });

/** Said wherever rights are listed. */
export const RIGHTS_CAUTION = 'This is bookkeeping, not legal advice: local law and the licence itself decide.';

export const REMARK_KINDS = [
  'nothing-inside',
  'no-pick',
  'no-original',
  'original-unplaced',
  'original-rate',
  'rate',
  'variable-rate',
  'no-timecode',
  'size',
  'overlap',
  'handles',
  'rights',
  'note',
] as const;
export type RemarkKind = (typeof REMARK_KINDS)[number];

/** Something to see to before the film is handed over, or to let go knowingly. */
export const TurnoverRemark = Type.Object({
  key: Type.String({ description: 'Names the facts it rests on: when they change, it is another remark.' }),
  kind: Type.Enum([...REMARK_KINDS]),
  text: Type.String(),
  slotId: Type.Optional(Type.String()),
  clipId: Type.Optional(Type.String()),
  cardId: Type.Optional(Type.String()),
  trackId: Type.Optional(Type.String()),
  frame: Type.Optional(Type.Integer({ description: 'Frame of the clip.' })),
  letGo: nullable(Type.Object({ why: Type.String(), by: Type.String(), at: Type.String() })),
});
export type TurnoverRemark = Static<typeof TurnoverRemark>;

/** How the film stands that would be handed over. */
export const TurnoverCheck = Type.Object({
  remarks: Type.Array(TurnoverRemark),
  frames: Type.Integer({ description: 'Length of the string-out, in frames of the film.' }),
  slots: Type.Integer(),
  approved: Type.Integer(),
  originals: Type.Integer({ description: 'Files to be fetched from the cards.' }),
});
export type TurnoverCheck = Static<typeof TurnoverCheck>;

export const FileLine = Type.Object({ name: Type.String(), type: Type.String(), bytes: Type.Integer(), sha256: Type.String() });
export type FileLine = Static<typeof FileLine>;
export const TurnoverFiles = Type.Object({ package: Type.String({ description: 'Name of the whole as a zip.' }), files: Type.Array(FileLine) });
export type TurnoverFiles = Static<typeof TurnoverFiles>;

/** Remarks that are let go with a reason, or (null) taken up again. What is answered undoes it. */
export const LetGoChange = Type.Object(
  {
    changes: Type.Array(Type.Object({ key: Type.String({ minLength: 1, maxLength: 1000 }), why: Type.Unsafe<string | null>({ type: ['string', 'null'], minLength: 1, maxLength: 500, pattern: '\\S' }) }, only), { minItems: 1, maxItems: 20_000 }),
  },
  only,
);
export type LetGoChange = Static<typeof LetGoChange>;

/** What plays, for people on paper: a page of it is printed. */
export const PickBook = Type.Object({
  at: Type.String({ description: 'Of the newest change.' }),
  slots: Type.Array(
    Type.Object({
      lineId: Type.String(),
      number: Type.String(),
      sequence: Type.String(),
      name: Type.String(),
      mustShow: Type.String(),
      comesIn: Type.String(),
      goesOut: Type.String(),
      state: Type.Enum(['approved', 'offered', 'empty']),
      recordIn: Type.String(),
      recordOut: Type.String(),
      frames: Type.Integer({ description: 'Frames of the film.' }),
      take: nullable(
        Type.Object({
          clipId: Type.String(),
          clip: Type.String(),
          card: Type.String(),
          reel: Type.String(),
          file: Type.String(),
          sourceIn: Type.String(),
          sourceOut: Type.String(),
          stillFrame: Type.Integer({ description: 'A frame of the clip in the middle of the take.' }),
          cutIn: Type.Boolean(),
        }),
      ),
      notes: Type.Array(Type.Object({ id: Type.String(), at: nullable(Type.String({ description: 'Timecode of the source.' })), text: Type.String({ description: 'With what was answered, a line each.' }), settled: Type.Boolean() })),
    }),
  ),
});
export type PickBook = Static<typeof PickBook>;

export const CLEARANCE_KINDS = ['location', 'person'] as const;
const clearanceWords = {
  name: Type.String({ minLength: 1, maxLength: 200, pattern: '\\S' }),
  state: Type.Enum([...RIGHTS]),
  words: Type.String({ maxLength: 2000, description: 'Where the paper is, and what it says.' }),
};
/** A location permit or a person's release. */
export const Clearance = Type.Object({ id: Type.String(), kind: Type.Enum([...CLEARANCE_KINDS]), ...clearanceWords, removedAt: nullable(Type.String()) });
export type Clearance = Static<typeof Clearance>;
export const NewClearance = Type.Object({ kind: Type.Enum([...CLEARANCE_KINDS]), name: clearanceWords.name, state: clearanceWords.state, words: Type.Optional(clearanceWords.words) }, only);
export type NewClearance = Static<typeof NewClearance>;
export const ClearanceChange = Type.Partial(Type.Object(clearanceWords), { ...only, minProperties: 1 });
export type ClearanceChange = Static<typeof ClearanceChange>;

/** What is recorded of rights, and what nobody has recorded yet. */
export const RightsBook = Type.Object({
  music: Type.Array(Type.Object({ trackId: Type.String(), title: Type.String(), maker: Type.String(), licence: Type.String(), rights: Type.Enum([...RIGHTS]), locked: Type.Boolean() })),
  clearances: Type.Array(Clearance),
  places: Type.Array(Type.Object({ name: Type.String(), clips: Type.Integer(), plays: Type.Integer({ description: 'Clips from there that play in the film.' }) }), { description: 'Locations of clips.' }),
});
export type RightsBook = Static<typeof RightsBook>;

/** The files of a cut that comes back: one .otio, or the edit lists of one track. */
export const CutGiven = Type.Object(
  { files: Type.Array(Type.Object({ name: Type.String({ minLength: 1, maxLength: 255 }), text: Type.String({ minLength: 1 }) }, only), { minItems: 1, maxItems: 20 }) },
  only,
);

export const CutSlot = Type.Object({
  slotId: Type.String(),
  number: Type.String(),
  name: Type.String(),
  offerId: nullable(Type.String({ description: 'What was handed over for it; null for nothing.' })),
  is: Type.Enum(['in', 'other-stretch', 'gone', 'was-empty']),
  was: Type.Integer({ description: 'Frames of the film that were handed over.' }),
  now: Type.Integer({ description: 'Frames of the film that are in the cut.' }),
  head: Type.Integer({ description: 'Frames by which it begins earlier in its clip (positive) or later.' }),
  tail: Type.Integer({ description: 'Frames by which it ends later in its clip (positive) or earlier.' }),
  pieces: Type.Integer(),
  moved: Type.Boolean({ description: 'It does not stand where the outline has it.' }),
  speed: Type.Boolean({ description: 'Some of it plays at another speed.' }),
  recordIn: nullable(Type.String({ description: 'Timecode of the cut where it first plays.' })),
  cutIn: Type.Boolean({ description: 'It is marked as cut in already.' }),
});
export type CutSlot = Static<typeof CutSlot>;
export const CutRead = Type.Object({
  title: Type.String(),
  frames: Type.Integer({ description: 'Length of the cut, in frames of the film.' }),
  slots: Type.Array(CutSlot),
  added: Type.Array(Type.Object({ name: Type.String(), reel: Type.String(), recordIn: Type.String(), frames: Type.Integer() }), { description: 'What is in the cut and was not handed over.' }),
});
export type CutRead = Static<typeof CutRead>;

const offerIds = Type.Array(id, { maxItems: 20_000, uniqueItems: true });
/** Offers that are in the cut, and those that no longer are; one step, undone by the same turned round. */
export const CutInChange = Type.Object({ set: offerIds, clear: offerIds }, only);
export type CutInChange = Static<typeof CutInChange>;
