import { Type, type Static } from 'typebox';

/** What stands between the film and the cutting room. */
export const REMARK_KINDS = ['empty-slot', 'undecided', 'no-original', 'unknown-frames', 'rate', 'size', 'variable-rate', 'handles', 'rights', 'open-notes'] as const;
export const Remark = Type.Object({
  kind: Type.Enum([...REMARK_KINDS]),
  words: Type.String({ description: 'For the person at the screen.' }),
  lineId: Type.Union([Type.String(), Type.Null()], { description: 'The line of the outline it is about.' }),
  clipId: Type.Union([Type.String(), Type.Null()]),
});
export type Remark = Static<typeof Remark>;

export const TurnoverFile = Type.Object({ name: Type.String(), about: Type.String(), bytes: Type.Integer(), sha256: Type.String() });
export type TurnoverFile = Static<typeof TurnoverFile>;

export const Turnover = Type.Object({ asOf: Type.Integer({ description: 'Number of the newest event that is in it.' }), shots: Type.Integer(), picks: Type.Integer(), remarks: Type.Array(Remark), files: Type.Array(TurnoverFile) });
export type Turnover = Static<typeof Turnover>;

export const HANDLE_FRAMES = Type.Integer({ minimum: 0, maximum: 1000, description: 'Frames of the clip before in and after out that are asked for as well.' });
/** Half a second at 24 or 25 (common practice, no source). */
export const DEFAULT_HANDLES = 12;
