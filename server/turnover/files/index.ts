import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { checkText } from './check-text.ts';
import { editLists } from './edit-list.ts';
import { clipLog, noteLog, pickLog, rightsLog, selectLog } from './logs.ts';
import { selectsOtio, stringOutOtio } from './otio.ts';
import { pullList } from './pull-list.ts';
import { marksVtt, notesVtt } from './vtt.ts';

/** Who makes which names; edit lists are as many files as their events need. */
const MAKERS: readonly { names: RegExp; make: (input: TurnoverInput) => TurnoverFile | TurnoverFile[] }[] = [
  { names: /^string-out\.otio$/, make: stringOutOtio },
  { names: /^string-out(-\d+)?\.edl$/, make: editLists },
  { names: /^selects\.otio$/, make: selectsOtio },
  { names: /^picks\.csv$/, make: pickLog },
  { names: /^selects\.csv$/, make: selectLog },
  { names: /^clips\.csv$/, make: clipLog },
  { names: /^notes\.csv$/, make: noteLog },
  { names: /^notes\.vtt$/, make: notesVtt },
  { names: /^marks\.vtt$/, make: marksVtt },
  { names: /^pull-list\.csv$/, make: pullList },
  { names: /^rights\.csv$/, make: rightsLog },
  { names: /^check\.txt$/, make: checkText },
];

/** Makes all files one after the other, so that whoever asks can do something else in between. */
export function* makeFiles(input: TurnoverInput): Generator<TurnoverFile> {
  for (const { make } of MAKERS) yield* [make(input)].flat();
}

/** One file by its name; null where a turnover of this film has none of that name. */
export function makeFile(input: TurnoverInput, name: string): TurnoverFile | null {
  const maker = MAKERS.find(({ names }) => names.test(name));
  return (maker ? [maker.make(input)].flat() : []).find((file) => file.name === name) ?? null;
}
