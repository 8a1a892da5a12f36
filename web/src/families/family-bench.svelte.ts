// The clips of a family side by side. States: following (the one in hand moves, the others go to its moment) -> in step
// (all play from one moment; player/in-step.ts) -> following, at the moment where they came to rest.
import { SvelteMap } from 'svelte/reactivity';
import type { Family } from '#contract/families';
import type { Clip } from '#contract/footage';
import { untrack } from 'svelte';
import type { FilmState } from '../live/film-state.svelte.ts';
import { playInStep } from '../player/in-step.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import { frameAtMoment, momentOf, sharedRanges, type Laid } from '../player/shared.ts';

/** What a machine plays at once without dropping frames, and what fits on a screen. */
const AT_ONCE = 6;

export interface Shown {
  clip: Clip;
  /** Where it lies; null where it rolled at another time, and so begins with the others. */
  placed: boolean;
  laid: Laid;
}

export class FamilyBench {
  readonly players = new SvelteMap<string, FramePlayer>();
  page = $state(0);
  inStep = $state(false);
  #chosenId: string | null = $state(null);
  #running: AbortController | null = null;
  readonly #film: FilmState;
  readonly #family: () => Family | null;
  readonly #clip: () => Clip;

  constructor(film: FilmState, family: () => Family | null, clip: () => Clip) {
    this.#film = film;
    this.#family = family;
    this.#clip = clip;
  }

  /** Clips that play, by where they lie: all of the family, or the one clip alone. */
  readonly members: readonly Shown[] = $derived.by(() => {
    const placed = this.#family()?.members ?? [{ clipId: this.#clip().id, offset: null, by: null }];
    // A take of another time begins where the earliest shared moment is.
    const first = placed.flatMap(({ offset }) => (offset ? [offset] : [])).reduce((a, b) => (b.num / b.den > a.num / a.den ? b : a), { num: 0, den: 1 });
    const shown = placed.flatMap(({ clipId, offset }): Shown[] => {
      const clip = this.#film.clips.get(clipId);
      return clip?.rate && clip.frames !== null ? [{ clip, placed: offset !== null, laid: { rate: clip.rate, frames: clip.frames, offset: offset ?? first } }] : [];
    });
    return shown.toSorted((a, b) => Number(b.placed) - Number(a.placed) || a.clip.camera.localeCompare(b.clip.camera) || a.clip.name.localeCompare(b.clip.name));
  });
  readonly pages = $derived(Math.max(1, Math.ceil(this.members.length / AT_ONCE)));
  readonly shown = $derived(this.members.slice(Math.min(this.page, this.pages - 1) * AT_ONCE, (Math.min(this.page, this.pages - 1) + 1) * AT_ONCE));
  /** The one that is heard, cut and stepped; the others follow it. */
  readonly inHand = $derived(this.shown.find(({ clip }) => clip.id === (this.#chosenId ?? this.#clip().id)) ?? this.shown[0] ?? null);
  readonly player = $derived(this.inHand ? (this.players.get(this.inHand.clip.id) ?? null) : null);

  keepPlayer(clipId: string, player: FramePlayer | null): void {
    if (player) this.players.set(clipId, player);
    else this.players.delete(clipId);
  }

  take(clipId: string): void {
    this.#chosenId = clipId;
  }

  takeBeside(by: 1 | -1): void {
    const at = this.shown.findIndex(({ clip }) => clip.id === this.inHand?.clip.id);
    const next = this.shown[(at + by + this.shown.length) % this.shown.length];
    if (next) this.take(next.clip.id);
  }

  /** Only the one in hand is heard. */
  hear(): void {
    for (const [clipId, player] of this.players) if (player.muted !== (clipId !== this.inHand?.clip.id)) player.toggleSound();
  }

  /** Plays all in step from the moment of the one in hand, or stops them. */
  async toggle(): Promise<void> {
    if (this.inStep) {
      await this.player?.pause();
      return;
    }
    const { inHand, player } = this;
    if (!inHand || !player) return;
    const ready = this.shown.filter(({ clip }) => this.players.has(clip.id));
    const ranges = sharedRanges(ready.map(({ laid }) => laid), momentOf(inHand.laid, player.frame));
    if (!ranges || ready.length < 2) return void (await player.toggle());
    const running = new AbortController();
    this.#running?.abort();
    this.#running = running;
    this.inStep = true;
    try {
      await playInStep(ready.map(({ clip }, n) => ({ player: this.players.get(clip.id)!, range: ranges[n]! })), player, running.signal);
    } finally {
      if (this.#running === running) this.inStep = false;
    }
  }

  /** The others go to the moment that the one in hand shows. To be called whenever that shows another frame. */
  follow(): void {
    const { inHand, player } = this;
    if (!inHand || !player || this.inStep) return;
    const moment = momentOf(inHand.laid, player.frame);
    untrack(() => {
      for (const { clip, laid } of this.shown) {
        const other = this.players.get(clip.id);
        const frame = frameAtMoment(laid, moment);
        if (other && other !== player && other.frame !== frame) void other.seek(frame);
      }
    });
  }

  close(): void {
    this.#running?.abort();
  }
}
