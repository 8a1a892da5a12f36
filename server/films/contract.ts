import { Type, type Static } from 'typebox';
import { WHOLE } from '#core/wish.ts';
import { ROLES, ACTIONS } from '../access/contract.ts';

/** Frames per second as an exact fraction; 23.976 is { num: 24000, den: 1001 }. */
export const RateShape = Type.Object({ num: Type.Integer({ minimum: 1 }), den: Type.Integer({ minimum: 1 }) });

export const Film = Type.Object({
  id: Type.String(),
  title: Type.String(),
  rate: RateShape,
  dropFrame: Type.Boolean(),
  targetFrames: Type.Integer(),
  closingShare: Type.Integer({ description: 'Least share of the running time for the closing, in hundredths of a percent.' }),
  shortestShot: Type.Integer({ description: 'The shortest shot the film allows, in frames.' }),
  handleFrames: Type.Integer({ description: 'Frames that go to the cutting room before and after every take.' }),
  dismissed: Type.Array(Type.String(), { description: 'Remarks of the shape check that were put away, by their key.' }),
  invented: Type.Boolean(),
  createdAt: Type.String(),
});
export type Film = Static<typeof Film>;

export const Member = Type.Object({
  id: Type.String({ description: 'The account of the member.' }),
  name: Type.String(),
  role: Type.Enum([...ROLES]),
  mayComment: Type.Boolean(),
  joinedAt: Type.String(),
  removedAt: Type.Union([Type.String(), Type.Null()]),
});
export type Member = Static<typeof Member>;

/** What the person who asks may do in this film: the web shows nothing else. */
export const Mine = Type.Object({ userId: Type.String(), role: Type.Enum([...ROLES]), can: Type.Array(Type.Enum([...ACTIONS])) });
export type Mine = Static<typeof Mine>;

export const NewFilm = Type.Object(
  {
    title: Type.String({ minLength: 1, maxLength: 200 }),
    rate: RateShape,
    dropFrame: Type.Optional(Type.Boolean()),
    targetFrames: Type.Integer({ minimum: 1, maximum: 10_000_000 }),
  },
  { additionalProperties: false },
);
export const FilmChange = Type.Partial(
  Type.Object({ ...NewFilm.properties, closingShare: Type.Integer({ minimum: 0, maximum: WHOLE }), shortestShot: Type.Integer({ minimum: 1, maximum: 10_000 }), handleFrames: Type.Integer({ minimum: 0, maximum: 10_000 }) }),
  { additionalProperties: false },
);
export type NewFilm = Static<typeof NewFilm>;
export type FilmChange = Static<typeof FilmChange>;
