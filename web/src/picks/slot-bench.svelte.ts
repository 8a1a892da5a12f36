import { SvelteMap, SvelteSet } from 'svelte/reactivity';
import type { Item } from '#contract/outline';
import type { Offer } from '#contract/offers';
import { contains, type FrameRange } from '#core/range.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import { nudged, Trimming } from '../strip/trimming.ts';
import { say, tried } from '../ui/say.svelte.ts';
import { playInStep } from '../player/in-step.ts';
import { hearOnly } from './playing.ts';

/*
 * The offers of one slot on the bench: which is in hand, which have players, and their trims.
 * The take in hand is always opened; playing in step opens all, and begins when every one of them can show something.
 */
export class SlotBenchState {
  /** Offers that have a player and not only a still. */
  readonly opened = new SvelteSet<string>();
  readonly players = new SvelteMap<string, FramePlayer>();
  #chosenId: string | null = $state(null);
  #inStep = $state(false);
  /** Ends the playing in step that was begun last. */
  #together = new AbortController();
  readonly #film: FilmState;
  readonly #slot: () => Item;
  readonly #trimming: Trimming;

  /** @param frame what the address names: the take that holds it comes in hand first. */
  constructor(film: FilmState, slot: () => Item, frame: number | null) {
    this.#film = film;
    this.#slot = slot;
    this.#trimming = new Trimming(film, 'offers', 'Offer trimmed.');
    const offers = film.offersOf(slot().id);
    const named = frame === null ? undefined : (offers.find((one) => one.verdict !== 'pass' && contains(one, frame)) ?? offers.find((one) => contains(one, frame)));
    this.take((named ?? film.pickOf(slot().id) ?? offers.find(({ verdict }) => verdict === 'open') ?? offers[0])?.id ?? null);
  }

  readonly offers = $derived.by(() => this.#film.offersOf(this.#slot().id));
  /** The take that plays and is decided on. */
  readonly inHand = $derived.by(() => this.offers.find(({ id }) => id === this.#chosenId) ?? this.offers[0] ?? null);
  readonly player = $derived.by(() => (this.inHand ? (this.players.get(this.inHand.id) ?? null) : null));

  take(id: string | null): void {
    this.#chosenId = id;
    if (id === null) return;
    this.opened.add(id);
    // Those that play in step with it go on; any other stops.
    if (!this.players.get(id)?.playing) for (const player of this.players.values()) if (player.playing) void player.pause();
    hearOnly(this.players.get(id) ?? null, this.players.values());
  }

  takeBeside(by: 1 | -1): void {
    const { offers } = this;
    const here = offers.findIndex(({ id }) => id === this.inHand?.id);
    this.take(offers[(here + by + offers.length) % offers.length]?.id ?? null);
  }

  keepPlayer(id: string, player: FramePlayer | null): void {
    if (player) this.players.set(id, player);
    else this.players.delete(id);
    this.#beginTogether();
  }

  /** Plays all offers side by side, each from its in, as soon as all of them can. */
  playAll(): void {
    this.#inStep = true;
    for (const { id } of this.offers) this.opened.add(id);
    this.#beginTogether();
  }

  trim(change: Partial<FrameRange>): void {
    const offer = this.inHand;
    const frames = offer && this.#film.clips.get(offer.clipId)?.frames;
    if (!offer || !frames) return;
    const first = change.in ?? Math.min(offer.in, (change.outExclusive ?? offer.outExclusive) - 1);
    this.#send(offer, { in: first, outExclusive: change.outExclusive ?? Math.max(offer.outExclusive, first + 1) });
  }

  nudge(by: { in?: number; out?: number }): void {
    const offer = this.inHand;
    const frames = offer && this.#film.clips.get(offer.clipId)?.frames;
    if (offer && frames) this.#send(offer, nudged(offer, by, frames));
  }

  async remove(offer: Offer): Promise<void> {
    await tried(
      () => this.#film.api.del(`/offers/${offer.id}`),
      () => say('Offer taken back.', { undo: () => this.#film.api.post(`/offers/${offer.id}/restore`) }),
    );
  }

  #send(offer: Offer, range: FrameRange): void {
    this.#trimming.trim(offer, range, `The trim of ${this.#film.clips.get(offer.clipId)?.name ?? 'an offer'}`);
  }

  #beginTogether(): void {
    const playable = this.offers.filter(({ clipId }) => {
      const clip = this.#film.clips.get(clipId);
      return clip?.rate && clip.frames !== null && this.#film.proxyOf(clip);
    });
    if (!this.#inStep || playable.some(({ id }) => !this.players.has(id))) return;
    this.#inStep = false;
    this.#together.abort();
    this.#together = new AbortController();
    hearOnly(this.player, this.players.values());
    void playInStep(playable.map((offer) => ({ player: this.players.get(offer.id)!, range: { in: offer.in, outExclusive: offer.outExclusive } })), this.player, this.#together.signal);
  }
}
