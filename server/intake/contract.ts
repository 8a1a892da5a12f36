import { Type, type Static } from 'typebox';
import { Clip } from '../footage/contract.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);

/** A file on its way in. Rows of arrived files stay, so that a card's page can say what became of each. */
export const Upload = Type.Object({
  id: Type.String(),
  name: Type.String(),
  relativePath: Type.String(),
  sourcePath: Type.String({ description: 'The path as its sender gave it.' }),
  bytes: nullable(Type.Integer()),
  camera: Type.String(),
  card: Type.String(),
  state: Type.Enum(['arriving', 'arrived', 'refused', 'withdrawn']),
  refusal: nullable(Type.Object({ code: Type.String(), detail: Type.String() })),
  clipId: nullable(Type.String()),
  cardId: nullable(Type.String()),
  beside: Type.Boolean({ description: 'It arrived, is no clip, and is kept with its card.' }),
  xxh64: nullable(Type.String({ description: 'Of what arrived.' })),
  userId: Type.String(),
  startedAt: Type.String(),
  finishedAt: nullable(Type.String()),
  removedAt: Type.Null(),
});
export type Upload = Static<typeof Upload>;

/** What became of one of several files sent in one request. */
export const FileResult = Type.Object({
  name: Type.String(),
  clip: nullable(Clip),
  duplicate: Type.Boolean(),
  problem: nullable(Type.Object({ code: Type.String(), detail: Type.String() }, { additionalProperties: true })),
});
export type FileResult = Static<typeof FileResult>;
