import type { Film as FilmRow } from '#prisma';
import type { Film } from './contract.ts';

/** A film as it is sent. */
export function toFilm(row: FilmRow): Film {
  return {
    id: row.id,
    title: row.title,
    rate: { num: row.rateNum, den: row.rateDen },
    dropFrame: row.dropFrame,
    targetFrames: row.targetFrames,
    closingShare: row.closingShare,
    shortestShot: row.shortestShot,
    handleFrames: row.handleFrames,
    dismissed: row.dismissed,
    invented: row.invented,
    createdAt: row.createdAt.toISOString(),
  };
}
