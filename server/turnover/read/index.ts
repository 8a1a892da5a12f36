import { Refusal } from '../../platform/errors.ts';
import { CUT_CHARACTERS, fault, type Counting, type Cut } from './cut.ts';
import { readEditLists } from './edit-list.ts';
import { readOtio } from './otio.ts';

export type { Cut, CutEvent } from './cut.ts';

/**
 * Reads the files of a later cut: one .otio, or edit lists that together are one. Nothing is kept of them.
 * @throws Refusal `too-large`, `cut-unknown`, `cut-damaged`, `cut-schema`, `cut-rate`.
 */
export function readCut(files: readonly { name: string; text: string }[], film: Counting): Cut {
  const characters = files.reduce((sum, { text }) => sum + text.length, 0);
  if (characters > CUT_CHARACTERS) throw new Refusal('too-large', `A cut may have ${CUT_CHARACTERS} characters; this one has ${characters}.`);
  const isJson = ({ text }: { text: string }): boolean => /^\uFEFF?\s*[{[]/.test(text.slice(0, 1000));
  const [first, second] = files;
  if (!files.some(isJson)) return readEditLists(files, film);
  if (second) throw fault('cut-unknown', second.name, 'an OpenTimelineIO cut is one file by itself.');
  return readOtio(first!.name, first!.text, film);
}
