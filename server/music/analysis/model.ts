import type { BarRule } from './bars.ts';
import type { Rule } from './metrical-level.ts';
import learned from './model.json' with { type: 'json' };
import type { Patterns } from './patterns.ts';
import type { PulseRule } from './pulse.ts';

/** What was learned from music; the file's head says from which. Made by tests/bench/train/music.ts. */
export interface Model {
  readonly about: readonly string[];
  /** The beats are searched with these. */
  readonly patterns: Patterns;
  /** More of them, too slow to search with: the metrical level is judged by these. */
  readonly fine: Patterns;
  readonly level: Rule;
  readonly bars: BarRule;
  readonly pulse: PulseRule;
}

export const model: Model = learned;
