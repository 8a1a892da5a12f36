import { Type, type Static } from 'typebox';
import { ClientId } from '../platform/client-id.ts';

export const VERDICTS = ['open', 'approve', 'hold', 'pass'] as const;

export const Offer = Type.Object({
  id: Type.String(),
  slotId: Type.String(),
  selectId: Type.String(),
  clipId: Type.String(),
  in: Type.Integer(),
  outExclusive: Type.Integer(),
  orderKey: Type.String(),
  verdict: Type.Enum([...VERDICTS]),
  reason: Type.String(),
  decidedById: Type.Union([Type.String(), Type.Null()]),
  decidedAt: Type.Union([Type.String(), Type.Null()]),
  offeredById: Type.String(),
  offeredAt: Type.String(),
  cutInAt: Type.Union([Type.String({ description: 'When it was found in a cut that came back.' }), Type.Null()]),
  removedAt: Type.Union([Type.String(), Type.Null()]),
});
export type Offer = Static<typeof Offer>;

const frame = Type.Integer({ minimum: 0, description: 'Frames of the clip.' });
export const NewOffer = Type.Object(
  { id: Type.Optional(ClientId), slotId: Type.String(), selectId: Type.String(), in: Type.Optional(frame), outExclusive: Type.Optional(frame) },
  { additionalProperties: false },
);
export type NewOffer = Static<typeof NewOffer>;
export const OfferTrim = Type.Object({ in: frame, outExclusive: frame }, { additionalProperties: false });
export type OfferTrim = Static<typeof OfferTrim>;

/**
 * `decisions` is the count on the slot that the person was looking at; when it has moved on, the answer is 409
 * `decided-meanwhile`. `trim`, when given, is the trim they were looking at; when it has moved on, 409 `trimmed-meanwhile`.
 */
export const VerdictGiven = Type.Object(
  {
    verdict: Type.Enum([...VERDICTS]),
    reason: Type.Optional(Type.String({ maxLength: 2000 })),
    decisions: Type.Integer({ minimum: 0 }),
    trim: Type.Optional(OfferTrim),
  },
  { additionalProperties: false },
);
export type VerdictGiven = Static<typeof VerdictGiven>;
