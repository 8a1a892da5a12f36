import { Type, type Static } from 'typebox';

// One schema with two types, not a union of two: only so does the validator leave 0 and "" alone instead of reading them as null.
const idOrNull = Type.Unsafe<string | null>({ type: ['string', 'null'], minLength: 1, maxLength: 64 });
const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);

export const RIGHTS = ['kept', 'missing', 'not-needed'] as const;
export type Rights = (typeof RIGHTS)[number];
export const MARK_KINDS = ['beat', 'hit', 'build', 'turn', 'named'] as const;
export type MarkKind = (typeof MARK_KINDS)[number];

/** Samples a second of play copy and wave. */
export const WAVE_RATE = 48_000;
/** A point of a level of the wave stands for this many points of the level below; level 0 is the samples themselves. */
export const WAVE_FACTOR = 8;
export const WAVE_LEVELS = 6;
/** Most marks in one change. */
export const MARKS_AT_ONCE = 5000;

export const TrackFailure = Type.Object({
  code: Type.String(),
  stage: Type.Enum(['copy', 'analysis', 'store']),
  reason: Type.String({ description: 'In words, for the person at the screen.' }),
  command: Type.String(),
  output: Type.String({ description: 'The end of what ffmpeg said.' }),
  mayRetry: Type.Boolean(),
});
export type TrackFailure = Static<typeof TrackFailure>;

const Span = Type.Object({ fromMs: Type.Integer(), toMs: Type.Integer() });

export const Track = Type.Object({
  id: Type.String(),
  name: Type.String({ description: 'Of the file.' }),
  title: Type.String(),
  maker: Type.String(),
  licence: Type.String({ description: 'Where the licence is and what it says; bookkeeping, not legal advice.' }),
  rights: Type.Enum([...RIGHTS]),
  bytes: Type.Integer(),
  xxh64: Type.String(),
  state: Type.Enum(['received', 'working', 'ready', 'failed']),
  failure: nullable(TrackFailure),
  version: nullable(Type.String({ description: 'Part of the address of its media: /api/films/:film/tracks/:track/media/:version/play.m4a' })),
  lengthMs: nullable(Type.Integer()),
  pulse: nullable(Type.Number({ description: 'Whether the music has a pulse at all, 0 to 1; null before the analysis.' })),
  tempo: Type.Array(Type.Object({ atMs: Type.Integer(), bpm: Type.Number(), confidence: Type.Number() })),
  silences: Type.Array(Span),
  integratedLufs: nullable(Type.Number({ description: 'Programme loudness, EBU R 128; null for silence.' })),
  truePeakDbtp: nullable(Type.Number()),
  rangeLu: nullable(Type.Number({ description: 'Loudness range, EBU Tech 3342.' })),
  locked: Type.Boolean(),
  sentById: Type.String(),
  receivedAt: Type.String(),
  removedAt: nullable(Type.String()),
});
export type Track = Static<typeof Track>;

const words = {
  title: Type.String({ minLength: 1, maxLength: 200, pattern: '\\S' }),
  maker: Type.String({ maxLength: 200 }),
  licence: Type.String({ maxLength: 2000 }),
  rights: Type.Enum([...RIGHTS]),
};
/** What is said of a file that is sent; its name stands for a title that is left out. */
export const TrackWords = Type.Partial(Type.Object({ ...words, xxh64: Type.String({ pattern: '^[0-9a-fA-F]{16}$' }) }), { additionalProperties: false });
export type TrackWords = Static<typeof TrackWords>;
export const TrackChange = Type.Partial(Type.Object(words), { additionalProperties: false, minProperties: 1 });
export type TrackChange = Static<typeof TrackChange>;

/** The track that was locked on the screen of who locks another: null for none. */
export const LockChange = Type.Object({ instead: idOrNull }, { additionalProperties: false });

export const Mark = Type.Object({
  id: Type.String(),
  trackId: Type.String(),
  kind: Type.Enum([...MARK_KINDS]),
  atMs: Type.Integer({ description: 'Milliseconds from the first sample of the track.' }),
  untilMs: nullable(Type.Integer({ description: 'Where a span ends; null for a moment.' })),
  name: Type.String(),
  strength: nullable(Type.Number({ description: 'Of what the analysis heard, 0 to 1.' })),
  confidence: nullable(Type.Number({ description: 'How sure the analysis is, 0 to 1; null for a mark of a person.' })),
  inBar: nullable(Type.Integer({ description: '1 is the first beat of a bar; null where bars cannot be told.' })),
  byId: nullable(Type.String({ description: 'Who made or moved it; null: the analysis.' })),
  removedAt: nullable(Type.String()),
});
export type Mark = Static<typeof Mark>;

const atMs = Type.Integer({ minimum: 0, maximum: 86_400_000 });
const untilMs = Type.Unsafe<number | null>({ type: ['integer', 'null'], minimum: 1, maximum: 86_400_000 });
const markWords = { kind: Type.Enum([...MARK_KINDS]), atMs, untilMs, name: Type.String({ maxLength: 200 }) };
export const MarkEdit = Type.Partial(Type.Object(markWords), { additionalProperties: false, minProperties: 1 });
export type MarkEdit = Static<typeof MarkEdit>;
export const NewMark = Type.Object(
  { kind: markWords.kind, atMs, untilMs: Type.Optional(untilMs), name: Type.Optional(markWords.name), inBar: Type.Optional(Type.Unsafe<number | null>({ type: ['integer', 'null'], minimum: 1, maximum: 64 })) },
  { additionalProperties: false },
);
export type NewMark = Static<typeof NewMark>;

const ids = Type.Array(Type.String({ minLength: 1, maxLength: 64 }), { maxItems: MARKS_AT_ONCE, default: [] });
/** Marks taken away, brought back and added in one step: its undo is the same with `remove` and `restore` exchanged. */
export const MarksChange = Type.Object(
  { remove: Type.Optional(ids), restore: Type.Optional(ids), add: Type.Optional(Type.Array(NewMark, { maxItems: MARKS_AT_ONCE })) },
  { additionalProperties: false, minProperties: 1 },
);
export type MarksChange = Static<typeof MarksChange>;

export const Tie = Type.Object({
  id: Type.String(),
  itemId: Type.String({ description: 'The line whose start it binds.' }),
  markId: Type.String(),
  madeById: Type.String(),
  madeAt: Type.String(),
  removedAt: nullable(Type.String()),
});
export type Tie = Static<typeof Tie>;
/** `instead`: the tie of the line as the screen of who asks had it, null for none. */
export const NewTie = Type.Object({ markId: Type.String({ minLength: 1, maxLength: 64 }), instead: idOrNull }, { additionalProperties: false });

export const MarksChanged = Type.Object({ removed: Type.Array(Mark), restored: Type.Array(Mark), added: Type.Array(Mark), ties: Type.Array(Tie) });
export type MarksChanged = Static<typeof MarksChanged>;

/** How far the work on a track is. Not kept: the next one says it better. */
export interface TrackProgress {
  film: string;
  trackId: string;
  stage: TrackFailure['stage'];
  fraction: number;
  etaSeconds: number | null;
}
