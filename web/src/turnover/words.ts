import type { RemarkKind } from '#contract/turnover';

/** What the remarks of a kind are about together. */
export const KIND_WORDS: Record<RemarkKind, string> = {
  'nothing-inside': 'Parts with nothing inside',
  'no-pick': 'Slots without a pick',
  'no-original': 'Camera originals not known',
  'original-unplaced': 'Originals whose frames are not known',
  'original-rate': 'Originals at another rate than their clip',
  rate: 'At another rate than the film',
  'variable-rate': 'Shot at a rate that varies',
  'no-timecode': 'Without timecode',
  size: 'Of another size than most of the film',
  overlap: 'Frames that play twice',
  handles: 'Short handles',
  rights: 'Rights',
  note: 'Open notes',
};

/** How a right stands (the words of product.md). */
export const STATE_WORDS = { kept: 'kept', missing: 'missing', 'not-needed': 'not needed' } as const;

/** What a file of the package is, by its name. */
export function fileWords(name: string): string {
  if (/^string-out.*\.edl$/.test(name)) return 'the string-out as an edit list in the columns of SMPTE ST 258';
  return (
    {
      'string-out.otio': 'the string-out as an OpenTimelineIO timeline, with notes and marks as markers',
      'selects.otio': 'all selects, by shoot day and camera',
      'picks.csv': 'what plays in each slot',
      'selects.csv': 'all selects',
      'clips.csv': 'all clips',
      'notes.csv': 'all notes',
      'notes.vtt': 'notes on the time of the film',
      'marks.vtt': 'marks of the locked track',
      'pull-list.csv': 'camera originals to be fetched, with handles',
      'rights.csv': 'what is recorded of rights',
      'check.txt': 'this check, with what was let go and why',
    }[name] ?? ''
  );
}
