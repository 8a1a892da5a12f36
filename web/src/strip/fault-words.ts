import type { Fault, FaultKind } from '#core/faults.ts';
import type { Rate } from '#core/rate.ts';
import type { Bound, Suggestion } from '#core/suggestions.ts';
import { formatDuration } from '#core/timecode.ts';

/** What each is called on the page, and what it says. */
export const FAULT_WORDS: Record<FaultKind, { name: string; means: string }> = {
  soft: { name: 'soft', means: 'nothing in the picture has a sharp edge' },
  shaky: { name: 'shaky', means: 'the picture is thrown about' },
  blown: { name: 'blown', means: 'much of the picture is plain white' },
  dark: { name: 'dark', means: 'nothing in the picture is bright' },
  black: { name: 'black', means: 'there is no picture' },
  frozen: { name: 'frozen', means: 'one picture stands still' },
  flashing: { name: 'flashing', means: 'more than three flashes a second' },
  clipped: { name: 'sound clipped', means: 'the wave is cut off at full scale' },
  silent: { name: 'silent', means: 'no sound above -60 dB' },
  rumble: { name: 'rumble', means: 'low sound, as of wind on a microphone' },
};

/** Where a stretch lies in its clip, in minutes and seconds: "0:12–0:15". */
export function placeOf({ in: first, outExclusive }: { in: number; outExclusive: number }, rate: Rate): string {
  const [from, to] = [formatDuration(first, rate), formatDuration(outExclusive, rate)];
  return from === to ? from : `${from}–${to}`;
}

/** "0:12–0:15 soft". */
export const faultText = (fault: Fault, rate: Rate): string => `${placeOf(fault, rate)} ${FAULT_WORDS[fault.kind].name}`;

const bound = (kind: Bound): string => (kind === 'cut' ? 'a cut' : kind === 'end' ? '' : FAULT_WORDS[kind].name);

/** What bounds a stretch that is suggested, and what is wrong with its sound: "after shaky, until soft; sound clipped". */
export function reasonOf({ before, after, sound }: Suggestion): string {
  const ends = [before === 'end' ? 'from the first frame' : `after ${bound(before)}`, after === 'end' ? 'to the last' : `until ${bound(after)}`];
  return [ends.join(', '), ...sound.map((kind) => FAULT_WORDS[kind].name)].join('; ');
}
