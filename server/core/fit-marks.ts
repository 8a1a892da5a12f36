import type { FitMark } from './fit.ts';
import type { Rate } from './rate.ts';

/*
 * Marks of the music as a fit takes them: which ones, at which frame, how strong. Strengths are our own choice: a turn
 * or what a person named before a hit or the end of a build, those before the first beat of a bar, and that before any
 * beat. Within a kind, what sounds stronger and what the analysis is surer of comes first; a person is sure.
 */

/** A mark as a fit needs it; see `Mark` of the music. */
export interface MusicMark {
  readonly id: string;
  readonly kind: 'beat' | 'hit' | 'build' | 'turn' | 'named';
  readonly atMs: number;
  readonly untilMs: number | null;
  readonly strength: number | null;
  readonly confidence: number | null;
  readonly inBar: number | null;
}

/** What changes may land on: `bar` is the first beat of a bar, `beat` any. */
export const FIT_KINDS = ['turn', 'named', 'hit', 'build', 'bar', 'beat'] as const;
export type FitKind = (typeof FIT_KINDS)[number];
const STRENGTH: Record<FitKind, number> = { turn: 1, named: 1, hit: 0.8, build: 0.8, bar: 0.4, beat: 0.2 };

export interface MarkChoice {
  readonly kinds: readonly FitKind[];
  /** By how many frames a change may miss a mark and still count as landed on it. */
  readonly near: number;
}

/** What a change at a frame lands on. */
export interface Landing {
  readonly markId: string;
  /** Frames by which it is late (positive) or early. */
  readonly off: number;
  readonly strength: number;
}

/** The frame that is on screen at a moment of the music, or begins nearest to it; the music begins with the film. */
export const frameAt = (ms: number, rate: Rate): number => Math.round((ms * rate.num) / (1000 * rate.den));

/** The moment of a mark that a change lands on: a build is landed on where it ends. */
export const momentOf = ({ kind, atMs, untilMs }: Pick<MusicMark, 'kind' | 'atMs' | 'untilMs'>): number => (kind === 'build' ? (untilMs ?? atMs) : atMs);

/** As what a mark is chosen: the first beat of a bar as such; null for nothing that is chosen. */
function kindChosen({ kind, inBar }: MusicMark, kinds: ReadonlySet<FitKind>): FitKind | null {
  if (kind === 'beat' && inBar === 1 && kinds.has('bar')) return 'bar';
  return kinds.has(kind) ? kind : null;
}

/** How many marks there are of each kind; the first beat of a bar counts as a beat too. */
export function countKinds(marks: readonly MusicMark[]): Record<FitKind, number> {
  const counts: Record<FitKind, number> = { turn: 0, named: 0, hit: 0, build: 0, bar: 0, beat: 0 };
  for (const { kind, inBar } of marks) {
    counts[kind] += 1;
    if (kind === 'beat' && inBar === 1) counts.bar += 1;
  }
  return counts;
}

/**
 * What every frame that counts as a mark's lands on: the strongest mark in reach, and of equals the nearest, because
 * each frame farther away takes off a thousandth.
 * @param total the running time in frames: a change can stand from frame 1 to the last
 */
export function landingsOf(marks: readonly MusicMark[], { kinds, near }: MarkChoice, total: number, rate: Rate): Map<number, Landing> {
  const chosen = new Set(kinds);
  const landings = new Map<number, Landing>();
  for (const mark of marks) {
    const kind = kindChosen(mark, chosen);
    if (kind === null) continue;
    const strong = STRENGTH[kind] * (mark.strength === null ? 1 : (1 + mark.strength) / 2) * (mark.confidence ?? 1);
    const frame = frameAt(momentOf(mark), rate);
    for (let off = 0 - near; off <= near; off++) {
      const strength = Math.max(0.001, strong - Math.abs(off) / 1000);
      if (frame + off <= 0 || frame + off >= total || (landings.get(frame + off)?.strength ?? 0) >= strength) continue;
      landings.set(frame + off, { markId: mark.id, off, strength });
    }
  }
  return landings;
}

/** Landings as `fit` takes them. */
export const fitMarksOf = (landings: ReadonlyMap<number, Landing>): FitMark[] => Array.from(landings, ([frame, { strength }]) => ({ frame, strength }));
