import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { editLists } from './edit-list.ts';
import { clipLog, noteLog, pickLog, rightsLog, selectLog } from './logs.ts';
import { selectsOtio, stringOutOtio } from './otio.ts';
import { pullList } from './pull-list.ts';
import { marksVtt, notesVtt } from './vtt.ts';

/** One a kind of file; edit lists are as many files as their events need. */
const MAKERS: readonly ((input: TurnoverInput) => TurnoverFile | TurnoverFile[])[] = [stringOutOtio, selectsOtio, editLists, pickLog, selectLog, clipLog, noteLog, notesVtt, marksVtt, pullList, rightsLog];

/** Makes the files one after the other, so that whoever makes them can do something else in between. */
export function* makeFiles(input: TurnoverInput): Generator<TurnoverFile> {
  for (const make of MAKERS) yield* [make(input)].flat();
}
