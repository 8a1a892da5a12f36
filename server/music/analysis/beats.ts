import type { Accents } from './accents.ts';
import { candidatesOf, shared } from './candidates.ts';
import { likelihood } from './decode.ts';
import type { Features } from './features.ts';
import type { Hit } from './hits.ts';
import { levelsOf } from './levels.ts';
import { chancesOf, describe, expected } from './metrical-level.ts';
import type { Model } from './model.ts';
import { PlainScores, Scores } from './patterns.ts';

export interface Beats {
  /** Frame of each beat. */
  readonly frames: readonly number[];
  /** For each beat, how much the music around it speaks for it, 0..1. */
  readonly confidence: readonly number[];
  /** Log likelihood over background, per frame. */
  readonly perFrame: number;
}

/** What a piece is searched in. */
export interface Heard {
  readonly features: Features;
  readonly accents: Accents;
  readonly hits: readonly Hit[];
}

/** Beats of which confidence is taken together. */
const AROUND = 4;

/**
 * The beats of a piece, as if it had a pulse; `pulseOf` says whether it has. Null where there are too few to speak of.
 * @param step called with the share done, 0 to 1; throws to stop.
 */
export function beatsOf({ features, accents, hits }: Heard, { patterns, fine, bars, level }: Pick<Model, 'patterns' | 'fine' | 'bars' | 'level'>, step: (fraction: number) => void): Beats | null {
  const levels = levelsOf(features.flux);
  const scores = new Scores(levels, patterns);
  const candidates = candidatesOf(scores, step);
  if (candidates.length === 0) return null;
  const ground = { features, accents, hits, bars, fine: new PlainScores(levels, fine) };
  const chances = chancesOf(candidates.map((candidate) => describe(candidate, candidates, ground)), level);
  const right = expected(candidates, chances);
  const frames = candidates[right.indexOf(Math.max(...right))]!;
  const confidence = frames.map((beat, i) => {
    const part = frames.slice(Math.max(0, i - AROUND), i + AROUND + 1);
    const perFrame = likelihood(scores, part) / Math.max(1, part.at(-1)! - part[0]!);
    const agreed = candidates.reduce((sum, other, k) => sum + (shared([beat], other) > 0 ? chances[k]! : 0), 0);
    // As much as is usual for music with a pulse counts as half sure; the candidates that have this beat bound that.
    return agreed / (1 + Math.exp(-4 * (perFrame - 0.5)));
  });
  return { frames, confidence, perFrame: likelihood(scores, frames) / Math.max(1, frames.at(-1)! - frames[0]!) };
}
