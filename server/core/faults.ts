import type { FrameRange } from './range.ts';
import { frameStartSeconds, type Rate } from './rate.ts';
import { UNKNOWN, type PictureTraces, type SoundTraces, type Traces } from './traces.ts';

export const PICTURE_FAULTS = ['soft', 'shaky', 'blown', 'dark', 'black', 'frozen', 'flashing'] as const;
export const SOUND_FAULTS = ['clipped', 'silent', 'rumble'] as const;
export type PictureFault = (typeof PICTURE_FAULTS)[number];
export type SoundFault = (typeof SOUND_FAULTS)[number];
export type FaultKind = PictureFault | SoundFault;

/** A stretch of a clip in which something may be wrong. It is a measurement, not a judgement: a night is dark, and meant so. */
export interface Fault extends FrameRange {
  readonly kind: FaultKind;
}

/** Where a fault begins, in the units of the trace. Common practice, no source, but for those that name one. */
export const LIMITS = {
  /** Tenths of a pixel: a Gaussian of 1.2 pixels at 540 lines, 2.4 at 1080. */
  softEdge: 30,
  /** Tenths of a thousandth: eight pixels of a picture 1920 wide. */
  shake: 40,
  blownPercent: 15,
  /** Nothing in the picture is brighter than this. A night scene has its lamps. */
  darkBelowPercent: 30,
  /** ffmpeg's blackdetect: picture_black_ratio_th 0.98. */
  blackPercent: 98,
  repeatedPercent: 100,
  /** More than three flashes within a second (WCAG 2.2, 2.3.1); a flash is two changes, and half a flash more is not waited for. */
  flashChanges: 7,
  clippedRuns: 2,
  /** ffmpeg's silencedetect: noise -60 dB. */
  silentPeak: -60,
  rumblePercent: 65,
  /** Softer than this, low sound does not disturb. */
  rumblePeak: -28,
} as const;

interface Rule {
  readonly kind: FaultKind;
  /** Shorter than this it is let pass; gaps up to `gap` do not interrupt it. Seconds. */
  readonly least: number;
  readonly gap: number;
  readonly holds: (picture: PictureTraces, sound: SoundTraces | null, step: number) => boolean;
}

// Movement cannot be told where the picture flashes, nor darkness and standing still where it is black.
const RULES: readonly Rule[] = [
  { kind: 'soft', least: 0.5, gap: 0.5, holds: ({ edge }, _, n) => edge[n] !== UNKNOWN && edge[n]! >= LIMITS.softEdge },
  { kind: 'shaky', least: 0.5, gap: 0.5, holds: ({ shake, flash }, _, n) => shake[n]! >= LIMITS.shake && flash[n]! < LIMITS.flashChanges },
  { kind: 'blown', least: 0.5, gap: 0.5, holds: ({ blown }, _, n) => blown[n]! >= LIMITS.blownPercent },
  { kind: 'dark', least: 1, gap: 0.5, holds: ({ brightest, black }, _, n) => brightest[n]! < LIMITS.darkBelowPercent && black[n]! < LIMITS.blackPercent },
  { kind: 'black', least: 0.3, gap: 0, holds: ({ black }, _, n) => black[n]! >= LIMITS.blackPercent },
  { kind: 'frozen', least: 1, gap: 0, holds: ({ repeated, black }, _, n) => repeated[n]! >= LIMITS.repeatedPercent && black[n]! < LIMITS.blackPercent },
  { kind: 'flashing', least: 0, gap: 1, holds: ({ flash }, _, n) => flash[n]! >= LIMITS.flashChanges },
  { kind: 'clipped', least: 0, gap: 1, holds: (_, sound, n) => sound !== null && sound.clipped[n]! >= LIMITS.clippedRuns },
  { kind: 'silent', least: 1, gap: 0, holds: (_, sound, n) => sound !== null && sound.peak[n]! <= LIMITS.silentPeak },
  { kind: 'rumble', least: 1, gap: 0.5, holds: (_, sound, n) => sound !== null && sound.rumble[n]! >= LIMITS.rumblePercent && sound.peak[n]! >= LIMITS.rumblePeak },
];

/** What the traces say may be wrong, by where it begins. A clip without sound has no fault of sound. */
export function faultsOf(traces: Traces, rate: Rate): Fault[] {
  return RULES.flatMap((rule) => stretchesOf(rule, traces, rate)).sort((a, b) => a.in - b.in);
}

/** How many frames each fault lasts; kinds that are not there are left out. */
export function faultFrames(traces: Traces, rate: Rate): Partial<Record<FaultKind, number>> {
  const frames: Partial<Record<FaultKind, number>> = {};
  for (const { kind, in: first, outExclusive } of faultsOf(traces, rate)) frames[kind] = (frames[kind] ?? 0) + outExclusive - first;
  return frames;
}

function stretchesOf({ kind, least, gap, holds }: Rule, { picture, sound, frames, framesPerStep }: Traces, rate: Rate): Fault[] {
  const found: { in: number; outExclusive: number }[] = [];
  for (let step = 0; step * framesPerStep < frames; step++) {
    if (!holds(picture, sound, step)) continue;
    const [first, end] = [step * framesPerStep, Math.min(frames, (step + 1) * framesPerStep)];
    const last = found.at(-1);
    if (last && frameStartSeconds(first - last.outExclusive, rate) <= gap) last.outExclusive = end;
    else found.push({ in: first, outExclusive: end });
  }
  return found.filter((range) => frameStartSeconds(range.outExclusive - range.in, rate) >= least).map((range) => ({ kind, ...range }));
}
