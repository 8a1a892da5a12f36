import type { Alignment, Family, Placed } from '#contract/families';
import type { FamilyGlance } from '#contract/footage';
import type { Rate } from '#core/rate.ts';
import { rateText } from '#core/rate.ts';

/** A family as one of its clips sees it. */
export function glanceOf(family: Family, clipId: string, cameraOf: (clipId: string) => string): FamilyGlance {
  const own = family.members.find((member) => member.clipId === clipId);
  const beside = family.members.filter((member) => member.clipId !== clipId);
  const rolled = own?.offset ? beside.filter(({ offset }) => offset) : [];
  return { takes: family.members.length, rolled: rolled.length, rolling: [...new Set(rolled.map((member) => cameraOf(member.clipId)))].filter(Boolean) };
}

/** What a clip says of its family: the cameras that rolled with it, or how many takes there are. */
export function familyWords({ takes, rolling, rolled }: FamilyGlance): string {
  return rolling.length ? `rolling with ${rolling.toSorted().join(', ')}${rolled < takes - 1 ? `; ${takes} takes` : ''}` : `${takes} takes`;
}

/** By what a clip lies where it lies. */
export const placeWords = ({ by }: Placed): string => ({ timecode: 'laid by timecode', sound: 'laid by sound', hand: 'laid by hand', none: 'rolled at another time' })[by ?? 'none'];

/** Why sound could not say where a clip lies. */
export const UNTOLD: Record<'no-sound' | 'silent' | 'repeats' | 'unrelated', string> = {
  'no-sound': 'one of them has no sound',
  silent: 'one of them is silent',
  repeats: 'the sound repeats and fits at several places',
  unrelated: 'their sound is not of the same moment, or too little of it is',
};

/** Seconds with their sign in words, and in frames of a rate. */
export function laterWords(seconds: number, rate: Rate): string {
  const frames = Math.abs(Math.round((seconds * rate.num) / rate.den));
  const word = seconds < 0 ? 'earlier' : 'later';
  return frames === 0 ? 'at the same frame' : `${Math.abs(seconds).toFixed(3)} s ${word} (${frames} ${frames === 1 ? 'frame' : 'frames'} at ${rateText(rate)})`;
}

/** What is said where timecode and sound part by more than a frame; null where they agree or one is silent. */
export function differenceWords({ differSeconds }: Alignment, rate: Rate): string | null {
  if (differSeconds === null || Math.abs(differSeconds) * rate.num <= rate.den) return null;
  return `Timecode and sound disagree: by sound it began ${laterWords(differSeconds, rate)} than by timecode. Choose one.`;
}
