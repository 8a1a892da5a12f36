import { Type, type Static } from 'typebox';
import { Clip } from '../footage/contract.ts';
import { ClientId } from '../platform/client-id.ts';

export const Select = Type.Object({
  id: Type.String(),
  clipId: Type.String(),
  in: Type.Integer(),
  outExclusive: Type.Integer(),
  circled: Type.Boolean(),
  label: Type.String(),
  madeById: Type.String(),
  madeAt: Type.String(),
  removedAt: Type.Union([Type.String(), Type.Null()]),
});
export type Select = Static<typeof Select>;

/** Selects that were looked for, with their clips: the first of `total`. */
export const SelectsFound = Type.Object({ total: Type.Integer(), found: Type.Array(Type.Object({ select: Select, clip: Clip })) });
export type SelectsFound = Static<typeof SelectsFound>;

const frame = Type.Integer({ minimum: 0, description: 'Frames of the clip.' });
const editable = { in: frame, outExclusive: frame, circled: Type.Boolean(), label: Type.String({ maxLength: 200 }) };
export const NewSelect = Type.Object(
  { id: Type.Optional(ClientId), clipId: Type.String(), in: frame, outExclusive: frame, circled: Type.Optional(editable.circled), label: Type.Optional(editable.label) },
  { additionalProperties: false },
);
export type NewSelect = Static<typeof NewSelect>;
export const SelectChange = Type.Partial(Type.Object(editable), { additionalProperties: false, minProperties: 1 });
export type SelectChange = Static<typeof SelectChange>;
