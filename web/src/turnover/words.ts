import type { Remark } from '#contract/turnover';

/** What the remarks of a kind are about together, in the order they are read. */
export const KIND_WORDS: Record<Remark['kind'], string> = {
  'empty-slot': 'Nothing plays',
  undecided: 'Not approved yet',
  'no-original': 'Camera original not known',
  'unknown-frames': 'Frames not known',
  rate: 'Another rate than the film',
  size: 'Another size than most of the film',
  'variable-rate': 'Shot at a rate that varies',
  handles: 'Short handles',
  rights: 'Rights',
  'open-notes': 'Open notes',
};
