import type { Rate } from '#core/rate.ts';
import type { Remark } from '#core/shape-check.ts';
import { lengthText } from '#core/wish.ts';

/** What remarks of a kind have in common, as the heading above them. */
export const REMARK_KINDS: Record<Remark['kind'], string> = {
  'no-opening': 'No opening',
  'no-closing': 'No closing',
  'stops-dead': 'The ending stops dead',
  'too-many-slots': 'More slots than the running time carries',
  'nothing-inside': 'Parts with nothing in them',
  'shows-nothing': 'Slots that do not say what they show',
  'no-way-over': 'No word on how one becomes the next',
  'far-from-rest': 'Lengths far from the rest',
};

/**
 * A remark as a sentence.
 * @param name of a line, by its id
 */
export function remarkWords(remark: Remark, name: (id: string) => string, rate: Rate): string {
  const place = remark.id === null ? 'The film' : name(remark.id);
  switch (remark.kind) {
    case 'no-opening':
      return 'No sequence is the opening.';
    case 'no-closing':
      return 'No sequence is the closing.';
    case 'stops-dead':
      return `The closing has ${lengthText(remark.frames, rate)}; this film asks for ${lengthText(remark.least, rate)} at least.`;
    case 'too-many-slots':
      return `${remark.slots} slots of the shortest shot need ${lengthText(remark.need, rate)}.`;
    case 'nothing-inside':
      return `${place} has nothing in it.`;
    case 'shows-nothing':
      return `${place} does not say what it must show.`;
    case 'no-way-over':
      return `${place} does not say how it goes out, nor ${name(remark.nextId)} how it comes in.`;
    case 'far-from-rest':
      return `${place} gets ${lengthText(Math.max(1, remark.frames), rate)}, ${remark.times} times farther from the usual ${lengthText(Math.max(1, Math.round(remark.median)), rate)} than lengths here usually lie.`;
  }
}
