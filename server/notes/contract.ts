import { Type, type Static } from 'typebox';
import { ClientId } from '../platform/client-id.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const unit = Type.Number({ minimum: 0, maximum: 1 });

/** Strokes over the picture; points are shares of the picture's width and height, from its top left. */
export const Drawing = Type.Object(
  { strokes: Type.Array(Type.Array(Type.Tuple([unit, unit]), { minItems: 1, maxItems: 2000 }), { minItems: 1, maxItems: 200 }) },
  { additionalProperties: false },
);
export type Drawing = Static<typeof Drawing>;

export const Note = Type.Object({
  id: Type.String(),
  clipId: nullable(Type.String()),
  offerId: nullable(Type.String()),
  slotId: nullable(Type.String()),
  parentId: nullable(Type.String()),
  in: nullable(Type.Integer()),
  outExclusive: nullable(Type.Integer()),
  text: Type.String(),
  drawing: nullable(Drawing),
  addressed: Type.Array(Type.String(), { description: 'Members named with @.' }),
  authorId: Type.String(),
  writtenAt: Type.String(),
  editedAt: nullable(Type.String()),
  settledAt: nullable(Type.String()),
  settledById: nullable(Type.String()),
  removedAt: nullable(Type.String()),
});
export type Note = Static<typeof Note>;

const text = Type.String({ minLength: 1, maxLength: 5000 });
/** Exactly one of clipId, offerId, slotId, parentId says what the note is on; `in`/`outExclusive` are frames of the clip. */
export const NewNote = Type.Object(
  {
    id: Type.Optional(ClientId),
    clipId: Type.Optional(Type.String()),
    offerId: Type.Optional(Type.String()),
    slotId: Type.Optional(Type.String()),
    parentId: Type.Optional(Type.String()),
    in: Type.Optional(Type.Integer({ minimum: 0 })),
    outExclusive: Type.Optional(Type.Integer({ minimum: 1 })),
    text,
    drawing: Type.Optional(Drawing),
    addressed: Type.Optional(Type.Array(Type.String(), { maxItems: 50 })),
  },
  { additionalProperties: false },
);
export type NewNote = Static<typeof NewNote>;
export const NoteChange = Type.Partial(
  Type.Object({ text, addressed: Type.Array(Type.String(), { maxItems: 50 }), drawing: nullable(Drawing) }),
  { additionalProperties: false, minProperties: 1 },
);
export type NoteChange = Static<typeof NoteChange>;
