import type { Card, Manifest } from '#contract/cards';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';

/** Gives lists to a card, each file as it is; one that cannot be read is told and the others go on. */
export async function giveLists(film: FilmState, card: Card, files: readonly File[]): Promise<void> {
  for (const file of files) {
    await tried(
      async () => film.api.post(`/cards/${card.id}/manifests`, { name: file.name, text: await textOf(file) }),
      () => say(`${file.name} is compared with card ${card.name}.`),
    );
  }
}

/** Puts a list aside; one undo brings it back. */
export async function putAside(film: FilmState, card: Card, manifest: Manifest): Promise<void> {
  const path = `/cards/${card.id}/manifests/${manifest.id}`;
  await tried(
    () => film.api.del(path),
    () => say(`${manifest.name} put aside.`, { undo: () => film.api.post(`${path}/restore`), again: () => film.api.del(path) }),
  );
}

/** The text of a list that somebody chose. Throws, in words, for a file that is none. */
export async function textOf(file: File): Promise<string> {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(await file.arrayBuffer());
  } catch {
    throw new Error(`${file.name} is not text in UTF-8, so it is no list of files and checksums.`);
  }
}
