import type { Accents } from './accents.ts';
import type { Hit } from './hits.ts';
import { repetition } from './rhythm.ts';

/** What speaks for a pulse. */
export interface Evidence {
  /** Log likelihood of the beats over background, per frame. */
  readonly perFrame: number;
  /** How like itself the rhythm is after one to eight beats; the best two lags. */
  readonly repetition: number;
  /** Share of the hits' strength that falls on twelfths of the beat, over what chance would give; 0 for chance, 1 for all. */
  readonly onGrid: number;
  /** Hits a second. */
  readonly density: number;
}

/** @param beats frames, @param times the same beats in seconds. */
export function evidenceOf(beats: readonly number[], times: readonly number[], perFrame: number, accents: Accents, hits: readonly Hit[]): Evidence {
  const best = repetition(beats, accents).toSorted((a, b) => b - a);
  const span = Math.max(1e-6, (times.at(-1) ?? 0) - (times[0] ?? 0));
  const inside = hits.filter(({ at }) => at >= times[0]! && at <= times.at(-1)!);
  return { perFrame, repetition: (best[0]! + best[1]!) / 2, onGrid: gridShare(times, inside), density: inside.length / span };
}

/** Divisions of a beat that count as on the grid. */
const DIVISIONS = [0, 1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 1];
/** The decoder places a beat within half of its first cell, which for a slow beat is more than an ear allows. */
const NEAR_SECONDS = 0.02;
const NEAR_SHARE = 1 / 24;

function gridShare(times: readonly number[], hits: readonly Hit[]): number {
  let [on, all, chance] = [0, 0, 0];
  let beat = 0;
  for (const { at, strength } of hits) {
    while (beat + 2 < times.length && times[beat + 1]! <= at) beat++;
    const length = times[beat + 1]! - times[beat]!;
    const off = Math.min(...DIVISIONS.map((division) => Math.abs((at - times[beat]!) / length - division))) * length;
    const near = Math.max(NEAR_SECONDS, NEAR_SHARE * length);
    if (off <= near) on += strength;
    all += strength;
    chance += strength * Math.min(1, ((DIVISIONS.length - 1) * 2 * near) / length);
  }
  return all > chance ? (on - chance) / (all - chance) : 0;
}

/** A linear rule over the evidence, as log odds. */
export interface PulseRule {
  readonly perFrame: number;
  readonly repetition: number;
  readonly onGrid: number;
  readonly density: number;
  readonly bias: number;
}

/** Whether there is a pulse, 0..1. */
export function pulseOf(evidence: Evidence, rule: PulseRule): number {
  const odds = rule.bias + rule.perFrame * evidence.perFrame + rule.repetition * evidence.repetition + rule.onGrid * evidence.onGrid + rule.density * Math.min(4, evidence.density);
  return 1 / (1 + Math.exp(-odds));
}
