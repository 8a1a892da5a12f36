import type { Upload as UploadRow } from '#prisma';
import type { Upload } from './contract.ts';

/** An upload as it is sent. */
export function toUpload(row: UploadRow): Upload {
  return {
    id: row.id,
    name: row.name,
    relativePath: row.relativePath,
    sourcePath: row.sourcePath,
    bytes: row.bytes === null ? null : Number(row.bytes),
    camera: row.camera,
    card: row.card,
    state: row.state,
    refusal: row.refusal as Upload['refusal'],
    clipId: row.clipId,
    cardId: row.cardId,
    beside: row.keptPath !== null,
    xxh64: (row.sums as { xxh64?: string }).xxh64 ?? null,
    userId: row.userId,
    startedAt: row.startedAt.toISOString(),
    finishedAt: row.finishedAt?.toISOString() ?? null,
    removedAt: null,
  };
}
