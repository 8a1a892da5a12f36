import { contains, overlaps } from '#core/range.ts';
import type { Suggestion } from '#core/suggestions.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import type { ClipTraces } from '../strip/clip-traces.svelte.ts';
import { say } from '../ui/say.svelte.ts';
import type { Cutting } from './cutting.svelte.ts';

/** Walks through the stretches that are suggested, and takes one as a select. Nothing is written before somebody does. */
export class Suggesting {
  /** First frame of the one that is looked at; it stays that when it is taken, so that a second stroke in haste means no other. */
  lookedAt: number | null = $state(null);
  readonly #traces: ClipTraces;
  readonly #cutting: Cutting;
  readonly #player: FramePlayer;

  constructor(traces: ClipTraces, cutting: Cutting, player: FramePlayer) {
    this.#traces = traces;
    this.#cutting = cutting;
    this.#player = player;
  }

  /** Those that no select has anything of. */
  readonly open: readonly Suggestion[] = $derived.by(() => this.#traces.suggestions.filter((one) => !this.#cutting.selects.some((select) => overlaps(select, one))));

  /** The one that is looked at; where none is, the one that the frame on screen lies in. */
  get current(): Suggestion | null {
    const { lookedAt } = this;
    return this.open.find((one) => (lookedAt === null ? contains(one, this.#player.frame) : one.in === lookedAt)) ?? null;
  }

  /** Goes to the next one, or to the one before; round and round. */
  look(by: 1 | -1): void {
    const from = this.lookedAt ?? this.#player.frame;
    const next = by > 0 ? (this.open.find((one) => one.in > from) ?? this.open[0]) : (this.open.findLast((one) => one.in < from) ?? this.open.at(-1));
    if (next) this.show(next);
    else say('No stretch is suggested that is not a select already.');
  }

  show(suggestion: Suggestion): void {
    this.lookedAt = suggestion.in;
    void this.#player.seek(suggestion.in);
  }

  take(suggestion = this.current): Promise<void> | void {
    if (!suggestion) return say('Go to a suggested stretch first.', { failed: true });
    this.lookedAt = suggestion.in;
    return this.#cutting.accept(suggestion);
  }
}
