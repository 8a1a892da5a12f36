import { Type, type Static } from 'typebox';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);

/** A list of files and checksums made at the source. */
export const Manifest = Type.Object({
  id: Type.String(),
  name: Type.String(),
  format: Type.Enum(['ascmhl', 'list']),
  files: Type.Integer(),
  madeAt: nullable(Type.String()),
  givenById: Type.String(),
  givenAt: Type.String(),
  state: Type.Enum(['received', 'working', 'ready', 'failed'], { description: 'Whether what arrived has been given the checksums this list asks for.' }),
  failure: nullable(Type.Object({ code: Type.String(), reason: Type.String() })),
});
export type Manifest = Static<typeof Manifest>;

/** A camera card as it was sent. */
export const Card = Type.Object({
  id: Type.String(),
  name: Type.String(),
  createdAt: Type.String(),
  manifests: Type.Array(Manifest),
  removedAt: Type.Null(),
});
export type Card = Static<typeof Card>;

/** How many files of a card are here, as clips and beside them, and how many on their way. */
export const CardCount = Type.Object({ cardId: Type.String(), clips: Type.Integer(), beside: Type.Integer(), arriving: Type.Integer() });
export type CardCount = Static<typeof CardCount>;

export const FileState = Type.Enum(['missing', 'changed', 'refused', 'unproved', 'extra', 'unchecked', 'arriving', 'leftOut', 'verified']);
export type FileState = Static<typeof FileState>;

export const CardFile = Type.Object({
  path: Type.String(),
  bytes: nullable(Type.Integer()),
  state: FileState,
  why: nullable(Type.String()),
  clipId: nullable(Type.String({ description: 'Null for a file that is kept beside the clips, or not here.' })),
});
export type CardFile = Static<typeof CardFile>;

const count = Type.Integer({ minimum: 0 });

/** A card file by file: its lists against what arrived. */
export const Proof = Type.Object({
  listed: Type.Integer({ description: 'Files that the lists name.' }),
  besides: Type.Integer({ description: 'Files here that no list would name: the lists themselves, and what their makers left out.' }),
  unread: Type.Integer({ description: 'Lists of the card that could not be read.' }),
  counts: Type.Object({ missing: count, changed: count, refused: count, unproved: count, extra: count, unchecked: count, arriving: count, leftOut: count, verified: count }),
  allReceived: Type.Boolean({ description: 'Every file here is on a list made at the source, every file of the lists is here, and all checksums are the same. Refused files that no list names do not count.' }),
  files: Type.Array(CardFile),
});
export type Proof = Static<typeof Proof>;

/** How far the making of checksums for a list is. Not kept: the next one says it better. */
export interface CardProgress {
  film: string;
  cardId: string;
  fraction: number;
  etaSeconds: number | null;
}

export const NewCard = Type.Object({ name: Type.String({ minLength: 1, maxLength: 80 }) }, { additionalProperties: false });
export const NewManifest = Type.Object({ name: Type.String({ minLength: 1, maxLength: 255 }), text: Type.String({ minLength: 1 }) }, { additionalProperties: false });
