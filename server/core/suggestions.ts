import { faultsOf, PICTURE_FAULTS, SOUND_FAULTS, type Fault, type FaultKind, type SoundFault } from './faults.ts';
import { overlaps, subtract, type FrameRange } from './range.ts';
import { frameStartSeconds, type Rate } from './rate.ts';
import type { Traces } from './traces.ts';

/** What bounds a suggested stretch: a fault of the picture, a cut inside the clip, or its first or last frame. */
export type Bound = FaultKind | 'cut' | 'end';

/** A stretch that may be usable, and why: it suggests, a person decides. */
export interface Suggestion extends FrameRange {
  readonly before: Bound;
  readonly after: Bound;
  /** What is wrong with the sound in it; the picture can be used without. */
  readonly sound: readonly SoundFault[];
}

/** Shorter stretches are not suggested: too short for a shot with handles. Common practice, no source. */
export const LEAST_SECONDS = 2;

const isOf = <K extends FaultKind>(kinds: readonly K[], { kind }: Fault): boolean => (kinds as readonly FaultKind[]).includes(kind);

/** The stretches in which nothing is found against the picture, none across a cut, in order of time. */
export function suggestionsOf(traces: Traces, rate: Rate): Suggestion[] {
  const faults = faultsOf(traces, rate);
  const spoiled = faults.filter((fault) => isOf(PICTURE_FAULTS, fault));
  // A cut is known to the frame, a fault to the step.
  const near = traces.framesPerStep;
  const shots = [0, ...traces.cuts].map((first, n) => ({ in: first, outExclusive: traces.cuts[n] ?? traces.frames }));
  return shots
    .flatMap((shot) => subtract([shot], spoiled))
    .filter(({ in: first, outExclusive }) => frameStartSeconds(outExclusive - first, rate) >= LEAST_SECONDS)
    .map((range) => ({
      ...range,
      before: range.in === 0 ? 'end' : (spoiled.find((fault) => fault.in < range.in && fault.outExclusive >= range.in - near)?.kind ?? 'cut'),
      after: range.outExclusive === traces.frames ? 'end' : (spoiled.find((fault) => fault.in <= range.outExclusive + near && fault.outExclusive > range.outExclusive)?.kind ?? 'cut'),
      sound: SOUND_FAULTS.filter((kind) => faults.some((fault) => fault.kind === kind && overlaps(fault, range))),
    }));
}
