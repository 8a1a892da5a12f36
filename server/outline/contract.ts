import { Type, type Static } from 'typebox';
import { TEXT_LIMITS } from '#core/outline-text.ts';
import { WHOLE } from '#core/wish.ts';
import { ClientId } from '../platform/client-id.ts';

// One schema with two types, not a union of two: only so does the validator leave 0 and "" alone instead of reading them as null.
const idOrNull = Type.Unsafe<string | null>({ type: ['string', 'null'], minLength: 1, maxLength: 64 });
const frames = Type.Integer({ minimum: 1, maximum: 10_000_000, description: 'Frames at the rate of the film.' });
const nullable = <T extends Type.TSchema>(schema: T) => Type.Union([schema, Type.Null()]);
const words = Type.String({ maxLength: 2000 });

const only = { additionalProperties: false } as const;
/** What a line asks for its length: one field, so that two people who set it never mix. */
export const Wish = Type.Union([
  Type.Object({ kind: Type.Literal('open') }, only),
  Type.Object({ kind: Type.Literal('fixed'), frames }, only),
  Type.Object({ kind: Type.Literal('range'), min: frames, max: frames }, { ...only, description: 'The shortest and the longest; min is less than max.' }),
  Type.Object({ kind: Type.Literal('share'), share: Type.Integer({ minimum: 1, maximum: WHOLE }) }, { ...only, description: 'Hundredths of a percent of the part the line stands in, of the film for a sequence.' }),
]);

export const Item = Type.Object({
  id: Type.String(),
  kind: Type.Enum(['part', 'slot']),
  parentId: nullable(Type.String()),
  orderKey: Type.String({ description: 'Siblings are in the order of (orderKey, id), compared by code unit.' }),
  name: Type.String(),
  role: Type.Enum(['opening', 'body', 'closing']),
  wish: Wish,
  fitted: nullable(Type.Integer({ description: 'Frames that a fit to music settled for a line with nothing inside. They hold as long as the outline allows all of them together.' })),
  mustShow: Type.String(),
  comesIn: Type.String(),
  goesOut: Type.String(),
  decisions: Type.Integer({ description: 'Verdicts given in this slot so far; a verdict names the count it was given on.' }),
  removedAt: nullable(Type.String()),
  removalId: nullable(Type.String()),
});
export type Item = Static<typeof Item>;

const editable = {
  name: Type.String({ maxLength: 300 }),
  role: Type.Enum(['opening', 'body', 'closing']),
  wish: Wish,
  mustShow: words,
  comesIn: words,
  goesOut: words,
};

/** Where a line stands: under `parentId` (null: top level), right after `afterId` (null: first). */
export const Place = Type.Object({ parentId: idOrNull, afterId: idOrNull }, { additionalProperties: false });
export type Place = Static<typeof Place>;

export const NewItem = Type.Object(
  { id: Type.Optional(ClientId), kind: Type.Enum(['part', 'slot']), place: Place, ...Type.Partial(Type.Object(editable)).properties, name: editable.name },
  { additionalProperties: false },
);
export type NewItem = Static<typeof NewItem>;
/** The words of a line as the person saw them before changing them: what somebody else wrote meanwhile is merged in. */
const Was = Type.Partial(Type.Object({ name: editable.name, mustShow: words, comesIn: words, goesOut: words }), { additionalProperties: false });
export const ItemChange = Type.Partial(Type.Object({ ...editable, was: Was }), { additionalProperties: false, minProperties: 1 });
export type ItemChange = Static<typeof ItemChange>;

// Postgres keeps no NUL in a text, and the other control characters say nothing in a name.
const NO_CONTROLS = '^[^\\u0000-\\u001f\\u007f]*$';
const severalRows = Type.String({ maxLength: 2000, pattern: '^[^\\u0000-\\u0009\\u000b-\\u001f\\u007f]*$' });

/** A line of an outline that is put in whole: lines are in the order of the page, each part before what is in it. */
export const WholeLine = Type.Object(
  {
    depth: Type.Integer({ minimum: 0, maximum: TEXT_LIMITS.levels - 1, description: '0 at the place itself; at most one more than the line before.' }),
    kind: Type.Enum(['part', 'slot']),
    name: Type.String({ maxLength: TEXT_LIMITS.name, pattern: NO_CONTROLS }),
    role: Type.Enum(['opening', 'body', 'closing']),
    wish: Wish,
    mustShow: severalRows,
    comesIn: severalRows,
    goesOut: severalRows,
  },
  { additionalProperties: false },
);
export type WholeLine = Static<typeof WholeLine>;
export const Paste = Type.Object({ place: Place, lines: Type.Array(WholeLine, { minItems: 1, maxItems: TEXT_LIMITS.lines }) }, { additionalProperties: false });
export type Paste = Static<typeof Paste>;
export const Pasted = Type.Object({ items: Type.Array(Item, { description: 'In the order of the lines.' }) });

const itemId = Type.String({ minLength: 1, maxLength: 64 });
/** Lengths of a fit: one for every line with nothing inside, all of them summing to the running time. */
export const FitAdoption = Type.Object(
  {
    seen: Type.Integer({ minimum: 0, description: 'Number of the newest event the lengths were worked out from.' }),
    lengths: Type.Array(Type.Object({ id: itemId, frames }, only), { minItems: 1, maxItems: TEXT_LIMITS.lines }),
  },
  only,
);
export type FitAdoption = Static<typeof FitAdoption>;

/** A line as the person saw it who takes it away. */
export const SeenLine = Type.Object({ id: itemId, name: Type.String(), mustShow: Type.String(), comesIn: Type.String(), goesOut: Type.String(), wish: Wish }, { additionalProperties: false });
export type SeenLine = Static<typeof SeenLine>;
export const NewRemoval = Type.Object(
  {
    items: Type.Array(itemId, { minItems: 1, maxItems: TEXT_LIMITS.lines }),
    removal: Type.Optional(ClientId),
    saw: Type.Optional(Type.Array(SeenLine, { maxItems: TEXT_LIMITS.lines, description: 'These lines and all in them, as the person saw them: what is not among them, or says something else by now, keeps all of it. Without it everything goes.' })),
  },
  { additionalProperties: false },
);
export type NewRemoval = Static<typeof NewRemoval>;
/** A remark by its key, and whether it is put away. */
export const RemarkChange = Type.Object({ key: Type.String({ minLength: 1, maxLength: 300 }), dismissed: Type.Boolean() }, { additionalProperties: false });
export type RemarkChange = Static<typeof RemarkChange>;
export const Removal = Type.Object({ removalId: Type.String(), items: Type.Array(Item) });
export type Removal = Static<typeof Removal>;

/** A stretch of work on the outline by one person; `seq` is the state it left. */
export const PastMoment = Type.Object({
  seq: Type.Integer(),
  actorId: nullable(Type.String()),
  from: Type.String(),
  at: Type.String(),
  /** How many lines were added, removed, and so on. */
  counts: Type.Object({ added: Type.Integer(), removed: Type.Integer(), renamed: Type.Integer(), moved: Type.Integer(), length: Type.Integer(), role: Type.Integer(), words: Type.Integer() }),
  names: Type.Array(Type.String(), { description: 'Names of some of the lines it touched.' }),
  /** What somebody called the state; null for none. */
  name: nullable(Type.String()),
});
export type PastMoment = Static<typeof PastMoment>;
/** A state somebody gave a name, with who left it and when. */
export const NamedState = Type.Object({ seq: Type.Integer(), name: Type.String(), actorId: nullable(Type.String()), at: Type.String() });
export type NamedState = Static<typeof NamedState>;
export const PastPage = Type.Object({
  moments: Type.Array(PastMoment, { description: 'Newest first.' }),
  older: nullable(Type.Integer({ description: 'Asked for with `before`, this gives the moments before these; null when there are none.' })),
  named: Type.Array(NamedState, { description: 'Every named state, newest first, whatever page it is on.' }),
});
export type PastPage = Static<typeof PastPage>;
export const PastState = Type.Object({ seq: Type.Integer(), items: Type.Array(Item) });
export type PastState = Static<typeof PastState>;
export const StateName = Type.Object({ name: Type.String({ minLength: 1, maxLength: 100, pattern: '\\S' }) }, { additionalProperties: false });
export const BroughtBack = Type.Object({ items: Type.Array(Item) });
export type BroughtBack = Static<typeof BroughtBack>;
export const TakenBack = Type.Object({ ...BroughtBack.properties, kept: Type.Array(Item, { description: 'Lines that keep what somebody did to them since, as they stand.' }) });
export type TakenBack = Static<typeof TakenBack>;
