import type { Card as CardRow, Manifest as ManifestRow } from '#prisma';
import type { Card, Manifest } from './contract.ts';

/** The columns of a list that are sent: the list itself stays here. */
export const MANIFEST_COLUMNS = { id: true, cardId: true, name: true, format: true, files: true, madeAt: true, givenById: true, givenAt: true, state: true, failure: true } as const;
export type ManifestHead = Pick<ManifestRow, keyof typeof MANIFEST_COLUMNS>;

/** A card as it is sent, with its lists in the order they were given. */
export function toCard(row: CardRow & { manifests: ManifestHead[] }): Card {
  return { id: row.id, name: row.name, createdAt: row.createdAt.toISOString(), manifests: row.manifests.map(toManifest), removedAt: null };
}

function toManifest(row: ManifestHead): Manifest {
  return {
    id: row.id,
    name: row.name,
    format: row.format as Manifest['format'],
    files: row.files,
    madeAt: row.madeAt?.toISOString() ?? null,
    givenById: row.givenById,
    givenAt: row.givenAt.toISOString(),
    state: row.state,
    failure: row.failure as Manifest['failure'],
  };
}
