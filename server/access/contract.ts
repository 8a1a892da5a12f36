import { Type, type Static } from 'typebox';

export const ROLES = ['director', 'editor', 'assistant', 'field', 'viewer'] as const;
export type Role = (typeof ROLES)[number];

/** Every action a route, a media file or a socket can ask for. */
export const ACTIONS = [
  'film.read',
  'film.edit',
  'crew.read',
  'crew.manage',
  'outline.read',
  'outline.edit',
  'clips.read',
  'clips.upload',
  'clips.edit',
  'selects.read',
  'selects.edit',
  'offers.read',
  'offers.edit',
  'verdicts.give',
  'notes.read',
  'notes.write',
  'notes.settle',
  'music.read',
  'music.send',
  'music.edit',
  'music.lock',
  'ledger.read',
  'clearances.read',
  'clearances.edit',
  'turnover.make',
] as const;
export type Action = (typeof ACTIONS)[number];

const name = Type.String({ minLength: 1, maxLength: 100 });
const email = Type.String({ minLength: 3, maxLength: 254, pattern: '^[^@\\s]+@[^@\\s]+$' });
const password = Type.String({ minLength: 8, maxLength: 128 });

export const NewAccount = Type.Object({ name, email, password }, { additionalProperties: false });
export type NewAccount = Static<typeof NewAccount>;

export const NewInvitation = Type.Object(
  { role: Type.Enum([...ROLES]), mayComment: Type.Optional(Type.Boolean()), days: Type.Optional(Type.Integer({ minimum: 1, maximum: 90 })) },
  { additionalProperties: false },
);
export const Invitation = Type.Object({
  id: Type.String(),
  role: Type.Enum([...ROLES]),
  mayComment: Type.Boolean(),
  createdAt: Type.String(),
  expiresAt: Type.String(),
  acceptedAt: Type.Union([Type.String(), Type.Null()]),
  revokedAt: Type.Union([Type.String(), Type.Null()]),
});
export type Invitation = Static<typeof Invitation>;
/** Answered once, when the invitation is made: only its hash is kept. */
export const MadeInvitation = Type.Object({ invitation: Invitation, token: Type.String() });

export const MemberChange = Type.Object(
  { role: Type.Optional(Type.Enum([...ROLES])), mayComment: Type.Optional(Type.Boolean()) },
  { additionalProperties: false, minProperties: 1 },
);

export const Me = Type.Object({
  id: Type.String(),
  name: Type.String(),
  email: Type.String(),
  keeper: Type.Boolean(),
  mayMakeFilms: Type.Boolean(),
});
export type Me = Static<typeof Me>;
