// The facts of clips that people and clocks set: which columns a change writes, and what follows from it.
import { correctionOf, corrected, dayAt, type Correction } from '#core/clock.ts';
import type { Clip as ClipRow, Prisma } from '#prisma';
import { Refusal } from '../platform/errors.ts';
import { FACTS, type ClipChange, type ClipsChange, type Fact, type Moment } from './contract.ts';
import { toClip } from './rows.ts';
import { columnsOf } from './rules.ts';

/** How a camera's clock is read. */
export interface ClockOf {
  correction: Correction | null;
  /** Minutes east of UTC; null for what each clip noted. */
  zone: number | null;
}

/** When a clip was truly captured. */
export function capturedOf({ notedAt, notedZone }: Pick<ClipRow, 'notedAt' | 'notedZone'>, clock: ClockOf | undefined): { capturedAt: Date | null; capturedZone: number | null } {
  if (!notedAt) return { capturedAt: null, capturedZone: null };
  const at = clock?.correction ? new Date(corrected(notedAt.getTime(), clock.correction)) : notedAt;
  return { capturedAt: at, capturedZone: clock?.zone ?? notedZone };
}

/** The columns of a clip whose clock changed; a day that a person set stays. */
export function clockColumns(row: ClipRow, clock: ClockOf | undefined): { capturedAt: Date | null; capturedZone: number | null; shootDay?: Date } {
  const { capturedAt, capturedZone } = capturedOf(row, clock);
  return { capturedAt, capturedZone, ...(capturedAt && !row.byHand.includes('shootDay') ? { shootDay: new Date(dayAt(capturedAt.getTime(), capturedZone)) } : {}) };
}

/**
 * The columns that a change sets, with what follows: the facts count as set by hand (unless it says which do), and a clip
 * that goes to another camera goes by that camera's clock.
 */
export function factColumns(row: ClipRow, { byHand, ...change }: ClipChange & { byHand?: Fact[] | undefined }, clocks: ReadonlyMap<string, ClockOf>): Prisma.ClipUpdateManyMutationInput {
  const columns = columnsOf(change);
  const set = FACTS.filter((fact) => change[fact] !== undefined);
  const hands = byHand ?? FACTS.filter((fact) => row.byHand.includes(fact) || set.includes(fact));
  const camera = columns.camera as string | undefined;
  const moved = camera !== undefined && camera !== row.camera ? clockColumns({ ...row, byHand: hands }, clocks.get(camera)) : {};
  return { ...moved, ...columns, byHand: hands };
}

/** The change that takes one back: the facts it sets as they were, and which of all a person had set. */
export function beforeOf(row: ClipRow, change: ClipChange): ClipsChange['changes'][number] {
  const was = toClip(row);
  return { id: row.id, ...Object.fromEntries(FACTS.filter((fact) => change[fact] !== undefined).map((fact) => [fact, was[fact]])), byHand: was.byHand };
}

/**
 * The correction that known moments ask for.
 * @throws Refusal `bad-input` when they cannot be of one clock, or a clip does not know when it was captured.
 */
export function correctionBy(moments: readonly Moment[], clips: ReadonlyMap<string, ClipRow>, camera: string): Correction | null {
  const known = moments.map(({ clipId, frame, trueAt }, n) => {
    const clip = clips.get(clipId);
    const wrong = (field: string, why: string) => new Refusal('bad-input', `Moment ${n + 1}: ${why}`, { fields: [{ field: `moments.${n}.${field}`, why }] });
    if (!clip || clip.camera !== camera) throw wrong('clipId', 'this is no clip of that camera.');
    if (!clip.notedAt || !clip.rateNum || !clip.rateDen) throw wrong('clipId', 'the camera noted no time in this clip.');
    if (clip.frames !== null && frame >= clip.frames) throw wrong('frame', 'the clip ends before this frame.');
    const trueMs = Date.parse(trueAt);
    if (Number.isNaN(trueMs)) throw wrong('trueAt', 'this is no moment; write it as 2026-05-30T18:20:00Z.');
    return { notedMs: clip.notedAt.getTime() + (frame * 1000 * clip.rateDen) / clip.rateNum, trueMs };
  });
  const correction = correctionOf(known);
  if (correction === 'none') return null;
  if (typeof correction !== 'string') return correction;
  const why = correction === 'too-close' ? 'The two moments are less than half an hour apart on the camera’s clock, which tells nothing of drift; give one of them, or two further apart.' : 'By these two moments the clock would gain or lose more than a thousandth, which no clock does; one of them is wrong.';
  throw new Refusal('bad-input', why, { fields: [{ field: 'moments', why }] });
}
