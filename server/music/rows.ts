import type { Mark as MarkRow, Tie as TieRow, Track as TrackRow } from '#prisma';
import type { Analysis } from './analysis/contract.ts';
import type { Mark, Rights, Tie, Track, TrackFailure } from './contract.ts';

/** A track as it is sent: of the analysis, what is not marks. */
export function toTrack(row: TrackRow): Track {
  const analysis = row.analysis as Analysis | null;
  return {
    id: row.id,
    name: row.name,
    title: row.title,
    maker: row.maker,
    licence: row.licence,
    rights: row.rights as Rights,
    bytes: Number(row.bytes),
    xxh64: row.xxh64,
    state: row.state,
    failure: row.failure as TrackFailure | null,
    version: row.version,
    lengthMs: row.lengthMs,
    pulse: analysis?.pulse ?? null,
    tempo: [...(analysis?.tempo ?? [])],
    silences: [...(analysis?.silences ?? [])],
    integratedLufs: row.integratedLufs,
    truePeakDbtp: row.truePeakDbtp,
    rangeLu: analysis?.loudness.rangeLu ?? null,
    locked: row.locked,
    sentById: row.sentById,
    receivedAt: row.receivedAt.toISOString(),
    removedAt: row.removedAt?.toISOString() ?? null,
  };
}

/** A mark as it is sent. */
export function toMark({ id, trackId, kind, atMs, untilMs, name, strength, confidence, inBar, byId, removedAt }: MarkRow): Mark {
  return { id, trackId, kind, atMs, untilMs, name, strength, confidence, inBar, byId, removedAt: removedAt?.toISOString() ?? null };
}

/** A tie as it is sent. */
export function toTie({ id, itemId, markId, madeById, madeAt, removedAt }: TieRow): Tie {
  return { id, itemId, markId, madeById, madeAt: madeAt.toISOString(), removedAt: removedAt?.toISOString() ?? null };
}
