import { Type, type Static } from 'typebox';
import { RateShape } from '../films/contract.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const Range = Type.Object({ in: Type.Integer(), outExclusive: Type.Integer() });
const Name = Type.String({ description: 'A hash of what it is made of.' });

/** What plays for one line of the outline. */
export const StringOutStretch = Type.Object({
  lineId: Type.String(),
  take: nullable(Type.Object({ offerId: Type.String(), clipId: Type.String(), range: Range, approved: Type.Boolean() }, { description: 'Frames of the clip; null where a card plays.' })),
  film: Type.Object({ in: Type.Integer(), outExclusive: Type.Integer() }, { description: 'Frames of the film.' }),
  flashes: Type.Boolean({ description: 'The clip of the take shows flashing picture somewhere in it.' }),
  state: Type.Enum(['take', 'card', 'waits', 'failed'], { description: 'waits: the proxy of the take is not ready; failed: it could not be put into the string-out. A card plays in place of both.' }),
  piece: Name,
});
export type StringOutStretch = Static<typeof StringOutStretch>;

/** A string-out that can be played as it is, whatever changed since. */
export const StringOutVersion = Type.Object({
  version: Name,
  rate: RateShape,
  frames: Type.Integer(),
  stretches: Type.Array(StringOutStretch, { description: 'One after the other, from frame 0 of the film.' }),
  sound: Name,
  musicFailed: Type.Boolean({ description: 'The locked track could not be mixed in, so it plays without.' }),
});
export type StringOutVersion = Static<typeof StringOutVersion>;

export const StringOut = Type.Object({
  playable: nullable(StringOutVersion),
  wanted: Type.Object({ version: Name, frames: Type.Integer(), ready: Type.Integer(), total: Type.Integer({ description: 'Pieces it is made of.' }) }, { description: 'The film as it stands now; the same version as `playable` when nothing is left to be made.' }),
  levels: Type.Object({ productionDb: Type.Integer(), musicDb: Type.Integer() }),
});
export type StringOut = Static<typeof StringOut>;

const db = Type.Integer({ minimum: -60, maximum: 6, description: 'Decibels; -60 is silence.' });
export const Levels = Type.Object({ productionDb: db, musicDb: db }, { additionalProperties: false });
export type Levels = Static<typeof Levels>;

/** How far the newest string-out of a film is. Not kept: the next one says it better. */
export interface StringOutProgress {
  film: string;
  /** The version that was made last. */
  version: string | null;
  ready: number;
  total: number;
}
