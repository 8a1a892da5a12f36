import { Refusal } from '../platform/errors.ts';
import type { Analysis } from './analysis/contract.ts';
import type { MarkKind, TrackFailure } from './contract.ts';

/** Marks of one kind this near are one and the same to an ear; twice the analysis' own grid of about 10 ms, and more. */
const SAME_MS = 50;

/** A mark as the analysis proposes it. */
export interface Found {
  kind: MarkKind;
  atMs: number;
  untilMs: number | null;
  strength: number | null;
  confidence: number;
  inBar: number | null;
}

interface Standing {
  id: string;
  kind: MarkKind;
  atMs: number;
  byId: string | null;
  removedAt: Date | null;
  removedById: string | null;
  tied: boolean;
}

/** Everything an analysis found, as marks, in time order. */
export function marksFound({ beats, hits, builds, turns }: Analysis): Found[] {
  const moment = { untilMs: null, inBar: null };
  return [
    ...beats.map(({ atMs, strength, confidence, inBar }) => ({ ...moment, kind: 'beat' as const, atMs, strength, confidence, inBar })),
    ...hits.map(({ atMs, strength, confidence }) => ({ ...moment, kind: 'hit' as const, atMs, strength, confidence })),
    ...builds.map(({ fromMs, toMs, confidence }) => ({ ...moment, kind: 'build' as const, atMs: fromMs, untilMs: toMs, strength: null, confidence })),
    ...turns.map(({ atMs, confidence }) => ({ ...moment, kind: 'turn' as const, atMs, strength: null, confidence })),
  ].sort((a, b) => a.atMs - b.atMs);
}

/**
 * What a new analysis changes. A person's marks stay as they are, and so does what a line is tied to; what a person
 * took away does not come back; nothing is put beside a mark that stays.
 * @returns ids of marks of the analysis to be taken back, and what to add.
 */
export function settleMarks(standing: readonly Standing[], found: readonly Found[]): { remove: string[]; add: Found[] } {
  const stays = standing.filter((mark) => (mark.removedAt ? mark.removedById !== null : mark.byId !== null || mark.tied));
  const times = new Map<MarkKind, number[]>();
  for (const { kind, atMs } of stays) times.set(kind, [...(times.get(kind) ?? []), atMs]);
  return {
    remove: standing.filter((mark) => !mark.removedAt && mark.byId === null && !mark.tied).map(({ id }) => id),
    add: found.filter(({ kind, atMs }) => !times.get(kind)?.some((at) => Math.abs(at - atMs) <= SAME_MS)),
  };
}

/** @throws Refusal `bad-range` for a mark that does not lie in the track, or a span that ends before it begins. */
export function checkInTrack({ atMs, untilMs }: { atMs: number; untilMs: number | null }, lengthMs: number, field = ''): void {
  const fault = (name: string, why: string) => new Refusal('bad-range', `${field}${name} ${why}`, { fields: [{ field: `${field}${name}`, why }] });
  if (atMs >= lengthMs) throw fault('atMs', `must lie before the end of the track, at ${lengthMs} ms.`);
  if (untilMs !== null && untilMs <= atMs) throw fault('untilMs', 'must be greater than atMs.');
  if (untilMs !== null && untilMs > lengthMs) throw fault('untilMs', `must not lie past the end of the track, at ${lengthMs} ms.`);
}

/** @throws Refusal `cannot-retry` while the track is being worked on, or when it would fail the same way again. */
export function checkRetry({ state, failure }: { state: string; failure: TrackFailure | null }): void {
  if (state === 'received' || state === 'working') throw new Refusal('cannot-retry', 'The track is being worked on.');
  if (failure?.mayRetry === false) throw new Refusal('cannot-retry', `Trying again would end the same way: ${failure.reason}`);
}

/** What a track is called while nobody has said: its file's name without the ending. */
export const titleOf = (fileName: string): string => fileName.replace(/\.[A-Za-z0-9]{1,5}$/, '').replaceAll('_', ' ').trim().slice(0, 200) || fileName;
