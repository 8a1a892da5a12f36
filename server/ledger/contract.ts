import { Type, type Static } from 'typebox';

const count = Type.Integer({ minimum: 0 });

export const SequenceLine = Type.Object({
  id: Type.String(),
  name: Type.String(),
  role: Type.Enum(['opening', 'body', 'closing']),
  slots: count,
  offered: Type.Integer({ description: 'Slots with at least one offer that was not passed, approved or not.' }),
  approved: count,
  plannedFrames: Type.Integer({ description: 'What the budget gives it of the running time.' }),
  pickedFrames: Type.Integer({ description: 'Length of the picks, converted to the rate of the film.' }),
  openNotes: count,
});

export const Waiting = Type.Object({
  kind: Type.Enum(['verdict', 'note', 'unseen', 'empty-slot', 'failed-clip']),
  text: Type.String(),
  slotId: Type.Optional(Type.String()),
  clipId: Type.Optional(Type.String()),
  offerId: Type.Optional(Type.String()),
  noteId: Type.Optional(Type.String()),
  frame: Type.Optional(Type.Integer()),
  since: Type.String(),
});

export const Ledger = Type.Object({
  sequences: Type.Array(SequenceLine),
  whole: Type.Object({
    slots: count,
    offered: count,
    approved: count,
    targetFrames: Type.Integer(),
    pickedFrames: Type.Integer(),
    clips: count,
    unseenClips: Type.Integer({ description: 'Clips with frames that nobody of the crew has watched.' }),
    unseenSeconds: Type.Number({ description: 'Of the clips that have been measured.' }),
    openNotes: count,
  }),
  waitingOnMe: Type.Array(Waiting),
});
export type Ledger = Static<typeof Ledger>;
export type SequenceLine = Static<typeof SequenceLine>;
export type Waiting = Static<typeof Waiting>;
