import { Type, type Static } from 'typebox';
import { Clip } from '../footage/contract.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const WHOLE = Number.MAX_SAFE_INTEGER;

/** Seconds as an exact fraction. */
export const Fraction = Type.Object({ num: Type.Integer({ minimum: -WHOLE, maximum: WHOLE }), den: Type.Integer({ minimum: 1, maximum: WHOLE }) }, { additionalProperties: false });
export type Fraction = Static<typeof Fraction>;

const PlacedBy = Type.Enum(['timecode', 'sound', 'hand']);
/** A clip in a family. */
export const Placed = Type.Object(
  {
    clipId: Type.String(),
    offset: nullable(Fraction),
    by: nullable(PlacedBy),
  },
  { additionalProperties: false, description: 'offset: seconds from the family’s zero to the first frame of the clip; null, and by with it, where the clip did not roll at the same time as others.' },
);
export type Placed = Static<typeof Placed>;

export const Family = Type.Object({
  id: Type.String(),
  members: Type.Array(Placed),
  madeById: Type.String(),
  madeAt: Type.String(),
  removedAt: nullable(Type.String()),
});
export type Family = Static<typeof Family>;

/** What a family is to hold: none dissolves it, no id makes a new one. */
const FamilyChange = Type.Object(
  { id: nullable(Type.String()), members: Type.Array(Placed, { maxItems: 200 }), was: Type.Array(Type.String(), { maxItems: 200, description: 'The clips it held when the person looked.' }) },
  { additionalProperties: false },
);
export const FamiliesChange = Type.Object({ changes: Type.Array(FamilyChange, { minItems: 1, maxItems: 200 }) }, { additionalProperties: false });
export type FamiliesChange = Static<typeof FamiliesChange>;
/** What was changed, and the change that takes it back. */
export const FamiliesChanged = Type.Object({ families: Type.Array(Family), previous: FamiliesChange.properties.changes });
export type FamiliesChanged = Static<typeof FamiliesChanged>;

/** A clip that may have rolled at the same time as another. */
export const Rolling = Type.Object({
  clip: Clip,
  by: Type.Enum(['timecode', 'clock'], { description: 'Whether their timecodes overlap, or only the times that the cameras noted.' }),
  offset: nullable(Fraction),
});
export type Rolling = Static<typeof Rolling>;

/** How two clips lie on one another. */
export const Alignment = Type.Object({
  timecode: nullable(Type.Object({ offset: Fraction })),
  sound: Type.Union([
    Type.Object({ told: Type.Literal(true), offset: Fraction, driftPpm: Type.Number(), confidence: Type.Number() }),
    Type.Object({ told: Type.Literal(false), why: Type.Enum(['no-sound', 'silent', 'repeats', 'unrelated']) }),
  ]),
  differSeconds: nullable(Type.Number({ description: 'What sound says less what timecode says, where both speak.' })),
});
export type Alignment = Static<typeof Alignment>;
