import { Type, type Static } from 'typebox';
import { PICTURE_FAULTS, SOUND_FAULTS } from '#core/faults.ts';
import { RateShape } from '../films/contract.ts';

const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);

/** What people and sorting say of a clip. */
export const FACTS = ['camera', 'card', 'shootDay', 'location'] as const;
export type Fact = (typeof FACTS)[number];
const Fact = Type.Enum([...FACTS]);

/** Why there is nothing usable in a clip. */
export const AsideReason = Type.Enum(['soft', 'shaky', 'exposure', 'sound', 'false-start', 'no-action', 'other']);

export const ClipFailure = Type.Object({
  code: Type.String(),
  stage: Type.Enum(['probe', 'proxy', 'check', 'store']),
  reason: Type.String({ description: 'In words, for the person at the screen.' }),
  command: Type.String(),
  output: Type.String({ description: 'The end of what ffmpeg said.' }),
  mayRetry: Type.Boolean(),
});
export type ClipFailure = Static<typeof ClipFailure>;

export const Clip = Type.Object({
  id: Type.String(),
  name: Type.String(),
  bytes: Type.Integer(),
  xxh64: Type.String(),
  checkedAtSource: Type.Boolean({ description: 'The sender gave a checksum made at the source, and it is the same.' }),
  camera: Type.String(),
  card: Type.String(),
  shootDay: nullable(Type.String({ description: 'YYYY-MM-DD' })),
  location: Type.String(),
  state: Type.Enum(['received', 'working', 'ready', 'failed']),
  uploadedById: Type.String(),
  receivedAt: Type.String(),
  removedAt: nullable(Type.String()),
  rate: nullable(RateShape),
  variableRate: Type.Boolean(),
  frames: nullable(Type.Integer()),
  startFrame: Type.Integer({ description: 'Frame number of the first frame on the timecode clock of the clip.' }),
  dropFrame: Type.Boolean(),
  width: nullable(Type.Integer({ description: 'As shown, rotation applied.' })),
  height: nullable(Type.Integer()),
  rotation: Type.Integer(),
  audioChannels: Type.Integer(),
  capturedAt: nullable(Type.String()),
  capturedZone: nullable(Type.Integer({ description: 'Minutes east of UTC that the camera noted.' })),
  notedAt: nullable(Type.String({ description: 'What the camera noted; capturedAt is that, set right by the camera’s clock.' })),
  notedZone: nullable(Type.Integer()),
  place: nullable(Type.Object({ latitude: Type.Number(), longitude: Type.Number() }, { description: 'Where the camera noted that it was.' })),
  byHand: Type.Array(Fact, { description: 'Facts that a person set; nothing that sorts by itself touches them.' }),
  make: nullable(Type.String()),
  model: nullable(Type.String()),
  reel: nullable(Type.String()),
  proxyVersion: nullable(Type.String({ description: 'Part of the address of the proxy: /api/films/:film/media/:clip/:proxyVersion/master.m3u8' })),
  failure: nullable(ClipFailure),
  aside: nullable(Type.Object({ reason: AsideReason, byId: Type.String(), at: Type.String() }, { description: 'Somebody found nothing usable in it.' })),
});
export type Clip = Static<typeof Clip>;

export const ClipChange = Type.Partial(
  Type.Object({
    camera: Type.String({ maxLength: 40 }),
    card: Type.String({ maxLength: 80 }),
    shootDay: nullable(Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}$' })),
    location: Type.String({ maxLength: 200 }),
  }),
  { additionalProperties: false, minProperties: 1 },
);
export type ClipChange = Static<typeof ClipChange>;

/** Facts of many clips, in one change. `byHand` says which count as set by a person; those that are set, when it is left out. */
export const ClipsChange = Type.Object(
  {
    changes: Type.Array(
      Type.Object({ id: Type.String(), ...ClipChange.properties, byHand: Type.Optional(Type.Array(Fact, { maxItems: FACTS.length })) }, { additionalProperties: false }),
      { minItems: 1, maxItems: 20_000 },
    ),
  },
  { additionalProperties: false },
);
export type ClipsChange = Static<typeof ClipsChange>;
/** What was changed, and the change that takes it back. */
export const ClipsChanged = Type.Object({ clips: Type.Integer(), previous: ClipsChange.properties.changes });
export type ClipsChanged = Static<typeof ClipsChanged>;

/** One fact of a clip that would change if it were sorted by what it knows itself. */
export const Proposal = Type.Object({ clipId: Type.String(), byHand: Type.Array(Fact, { description: 'What a person set of the clip.' }), fact: Type.Enum([...FACTS]), from: Type.String(), to: Type.String(), why: Type.String() });
export type Proposal = Static<typeof Proposal>;

/** A moment whose true time is known: a frame of a clip. */
export const Moment = Type.Object({ clipId: Type.String(), frame: Type.Integer({ minimum: 0 }), trueAt: Type.String({ pattern: '^\\d{4}-\\d{2}-\\d{2}T\\d{2}:\\d{2}(:\\d{2}(\\.\\d+)?)?(Z|[+-]\\d{2}:\\d{2})$', maxLength: 40, description: 'RFC 3339.' }) }, { additionalProperties: false });
export type Moment = Static<typeof Moment>;
const zone = nullable(Type.Integer({ minimum: -14 * 60, maximum: 14 * 60, description: 'Minutes east of UTC at the place; null for what each clip noted.' }));
export const ClockChange = Type.Object({ camera: Type.String({ minLength: 1, maxLength: 40 }), moments: Type.Array(Moment, { maxItems: 2 }), zone }, { additionalProperties: false });
export type ClockChange = Static<typeof ClockChange>;
export const Clock = Type.Object({ camera: Type.String(), moments: Type.Array(Moment), zone });
export const ClockPreview = Type.Object({
  offsetMs: Type.Number(),
  driftPpm: Type.Number({ description: 'Millionths that the clock runs slow.' }),
  clips: Type.Array(
    Type.Object({ id: Type.String(), name: Type.String(), before: Type.String(), after: Type.String(), zoneBefore: zone, zone, dayBefore: nullable(Type.String()), dayAfter: nullable(Type.String()), dayByHand: Type.Boolean() }),
  ),
});
export type ClockPreview = Static<typeof ClockPreview>;

/** Stretches of a clip in its own frames, half-open: [[in, outExclusive], …]. */
export const FrameRanges = Type.Array(Type.Tuple([Type.Integer({ minimum: 0 }), Type.Integer({ minimum: 1 })]), { maxItems: 1000 });
export const SeenReport = Type.Object({ ranges: FrameRanges }, { additionalProperties: false });
/** What was watched of a clip: by the person who asks, and by anyone of the crew. */
export const Seen = Type.Object({ id: Type.String({ description: 'The clip.' }), mine: FrameRanges, crew: FrameRanges });
export type Seen = Static<typeof Seen>;

/** What is asked for of the footage; everything left out is not asked for. */
export const FootageFilter = Type.Object(
  {
    words: Type.Optional(Type.String({ maxLength: 200, description: 'Beginnings of words in the name, camera, card, reel or location of a clip, in labels of its selects, or in its notes; all of them.' })),
    camera: Type.Optional(Type.String({ maxLength: 40, description: 'Empty for clips without one.' })),
    day: Type.Optional(Type.String({ pattern: '^(\\d{4}-\\d{2}-\\d{2}|none)$', description: 'YYYY-MM-DD, or none for clips without a day.' })),
    location: Type.Optional(Type.String({ maxLength: 200, description: 'Empty for clips without one.' })),
    longer: Type.Optional(Type.Number({ minimum: 0, maximum: 86_400, description: 'Seconds that a clip is at least long.' })),
    shorter: Type.Optional(Type.Number({ minimum: 0, maximum: 86_400, description: 'Seconds that a clip is at most long.' })),
    seen: Type.Optional(Type.Enum(['none', 'partly', 'whole'], { description: 'By anyone of the crew.' })),
    selects: Type.Optional(Type.Enum(['none', 'some', 'circled', 'aside'], { description: 'aside: put aside, because nothing in it is usable.' })),
    fault: Type.Optional(Type.Enum([...PICTURE_FAULTS, ...SOUND_FAULTS], { description: 'What the traces of a clip show somewhere in it.' })),
    state: Type.Optional(Type.Enum(['ready', 'unfinished', 'failed'], { description: 'Of its proxy.' })),
  },
  { additionalProperties: false },
);
export type FootageFilter = Static<typeof FootageFilter>;
export type FilterName = keyof FootageFilter;

/** The table of what was asked for: counts only. */
export const FootageTable = Type.Object({
  cameras: Type.Array(Type.String(), { description: 'In the order of the columns.' }),
  days: Type.Array(Type.Object({ day: nullable(Type.String()), counts: Type.Array(Type.Integer(), { description: 'Clips of each camera.' }) })),
  clips: Type.Integer(),
  frames: Type.Array(Type.Object({ rate: RateShape, frames: Type.Integer() }), { description: 'How long all of it is, at each rate.' }),
  /** Of the whole film, whatever was asked for. */
  film: Type.Object({ clips: Type.Integer(), unfinished: Type.Integer(), failed: Type.Integer(), cameras: Type.Array(Type.String()), days: Type.Array(nullable(Type.String())), locations: Type.Array(Type.String()) }),
});
export type FootageTable = Static<typeof FootageTable>;

/** What a clip's family is at a glance: how many takes, and the cameras of those that rolled with this one. */
export const FamilyGlance = Type.Object({ takes: Type.Integer(), rolling: Type.Array(Type.String()), rolled: Type.Integer({ description: 'How many other clips of it rolled with this one.' }) });
export type FamilyGlance = Static<typeof FamilyGlance>;

/** A clip as it stands in the table. */
export const FootageRow = Type.Object({ clip: Clip, selects: Type.Integer(), circled: Type.Integer(), notes: Type.Integer({ description: 'On the clip itself, open.' }), seen: Seen, family: nullable(FamilyGlance) });
export type FootageRow = Static<typeof FootageRow>;
