import type { MarkKind } from '#contract/music';
import { momentOfTap, ownOffset, snapped } from '#core/tapping.ts';
import type { Listening } from './listening.svelte.ts';
import type { Marking } from './marking.svelte.ts';

/** Taps this near a mark of the analysis mean it. */
const SNAP_MS = 90;
/** The taps are written this long after the last one, or when the music stops. */
const WRITE_AFTER_MS = 1500;
const CLICKS = 16;
const CLICK_EVERY_S = 0.6;

/** By how much this person taps after what they hear, kept in this browser, because it goes with its sound device too. */
export class OwnLateness {
  ms = $state(0);
  readonly #key: string;

  constructor(userId: string) {
    this.#key = `rushlight.tap-lateness.${userId}`;
    const kept = Number(localStorage.getItem(this.#key) ?? 0);
    this.ms = Number.isFinite(kept) ? kept : 0;
  }

  set(ms: number): void {
    this.ms = ms;
    localStorage.setItem(this.#key, String(ms));
  }
}

/*
 * Tapping marks in while the music plays. States: idle -> tapping (`pending` holds what was tapped) -> written as one
 * change that undoes as one -> idle.
 */
export class Tapping {
  kind: MarkKind = $state('beat');
  snap = $state(true);
  pending: readonly number[] = $state.raw([]);
  readonly lateness: OwnLateness;
  readonly #listening: Listening;
  readonly #marking: Marking;
  #timer: number | null = null;

  constructor(listening: Listening, marking: Marking, userId: string) {
    this.#listening = listening;
    this.#marking = marking;
    this.lateness = new OwnLateness(userId);
  }

  tap(): void {
    const at = momentOfTap(this.#listening.now(), { outputMs: this.#listening.outputMs, ownMs: this.lateness.ms });
    // Only what the analysis heard draws a tap; a person's own marks may be what is being set right.
    const heard = this.snap ? this.#marking.marks.filter(({ byId, kind }) => byId === null && (kind === this.kind || this.kind === 'named' || kind === 'hit')).map(({ atMs }) => atMs) : [];
    this.pending = [...this.pending, snapped(at, heard, SNAP_MS)];
    if (this.#timer !== null) window.clearTimeout(this.#timer);
    this.#timer = window.setTimeout(() => void this.write(), WRITE_AFTER_MS);
  }

  /** Writes what was tapped so far. */
  async write(): Promise<void> {
    if (this.#timer !== null) window.clearTimeout(this.#timer);
    this.#timer = null;
    const { pending } = this;
    if (pending.length === 0) return;
    await this.#marking.addTapped(this.kind, pending);
    this.pending = this.pending.slice(pending.length);
  }
}

/** A row of clicks to tap along with, by which one's own lateness is measured. */
export class Measuring {
  running = $state(false);
  tapped = $state(0);
  /** Milliseconds; null while there is nothing to say or the taps were too scattered. */
  result: number | null = $state(null);
  done = $state(false);
  readonly clicks = CLICKS;
  readonly #listening: Listening;
  #taps: number[] = [];
  #times: number[] = [];
  #timer: number | null = null;

  constructor(listening: Listening) {
    this.#listening = listening;
  }

  async begin(): Promise<void> {
    const context = this.#listening.context();
    await context.resume();
    this.#taps = [];
    this.tapped = 0;
    this.done = false;
    this.running = true;
    const first = context.currentTime + 0.8;
    this.#times = Array.from({ length: CLICKS }, (_, n) => first + n * CLICK_EVERY_S);
    for (const at of this.#times) {
      const [tone, gain] = [context.createOscillator(), context.createGain()];
      tone.frequency.value = 1000;
      gain.gain.setValueAtTime(0.25, at);
      gain.gain.exponentialRampToValueAtTime(0.001, at + 0.05);
      tone.connect(gain).connect(context.destination);
      tone.start(at);
      tone.stop(at + 0.06);
    }
    this.#timer = window.setTimeout(() => this.end(), 1000 * (0.8 + CLICKS * CLICK_EVERY_S));
  }

  tap(): void {
    if (!this.running) return;
    this.#taps.push(this.#listening.context().currentTime * 1000 - this.#listening.outputMs);
    this.tapped = this.#taps.length;
  }

  end(): void {
    if (this.#timer !== null) window.clearTimeout(this.#timer);
    if (!this.running) return;
    this.running = false;
    this.done = true;
    this.result = ownOffset(this.#taps, this.#times.map((at) => at * 1000));
  }
}
