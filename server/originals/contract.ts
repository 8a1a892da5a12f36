import { Type, type Static } from 'typebox';
import { RateShape } from '../films/contract.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const Start = Type.Object({ frame: Type.Integer(), drop: Type.Boolean() });
const Finding = Type.Enum(['agrees', 'differs', 'unknown']);

/** A list of camera originals made where they lie. */
export const OriginalList = Type.Object({ id: Type.String(), card: Type.String(), name: Type.String(), files: Type.Integer(), givenById: Type.String(), givenAt: Type.String() });
export type OriginalList = Static<typeof OriginalList>;

export const CameraOriginal = Type.Object({
  id: Type.String({ description: 'Its card and its path there.' }),
  card: Type.String(),
  path: Type.String(),
  reel: nullable(Type.String()),
  rate: nullable(RateShape),
  start: nullable(Start),
  length: nullable(Type.Union([Type.Object({ frames: Type.Integer() }), Type.Object({ seconds: Type.Number(), within: Type.Number() })])),
  bytes: nullable(Type.Integer()),
  xxh64: nullable(Type.String()),
});
export type CameraOriginal = Static<typeof CameraOriginal>;

const compared = {
  originalId: Type.String(),
  findings: Type.Object({ name: Finding, card: Finding, reel: Finding, rate: Finding, start: Finding, length: Finding }),
  words: Type.Array(Type.String({ description: 'What differs.' })),
  offset: nullable(Type.Integer({ description: 'Frame 0 of the clip is this frame of the original; null where nobody knows.' })),
};

/** What a person settled of a clip. */
export const Choice = Type.Object(
  { joined: nullable(Type.String({ maxLength: 5000 })), own: Type.Boolean(), apart: Type.Array(Type.String({ maxLength: 5000 }), { maxItems: 200, uniqueItems: true }) },
  { additionalProperties: false },
);
export type Choice = Static<typeof Choice>;

/** A clip as far as it is compared with originals. */
const ComparedClip = Type.Object({ id: Type.String(), name: Type.String(), reel: nullable(Type.String()), rate: nullable(RateShape), start: nullable(Start), frames: nullable(Type.Integer()) });

export const Originals = Type.Object({
  clips: Type.Array(ComparedClip, { description: 'Those that are spoken of.' }),
  lists: Type.Array(OriginalList),
  originals: Type.Array(CameraOriginal),
  joined: Type.Array(Type.Object({ clipId: Type.String(), by: Type.Enum(['person', 'facts']), ...compared })),
  own: Type.Array(Type.Object({ clipId: Type.String(), by: Type.Enum(['person', 'facts']) })),
  open: Type.Array(Type.Object({ clipId: Type.String(), candidates: Type.Array(Type.Object(compared)) }), { description: 'For a person to decide.' }),
  clipsWithout: Type.Array(Type.String()),
  originalsWithout: Type.Array(Type.String()),
  choices: Type.Array(Type.Object({ clipId: Type.String(), ...Choice.properties })),
});
export type Originals = Static<typeof Originals>;

export const NewOriginalList = Type.Object({ card: Type.String({ minLength: 1, maxLength: 80 }), name: Type.String({ minLength: 1, maxLength: 255 }), text: Type.String({ minLength: 1 }) }, { additionalProperties: false });
