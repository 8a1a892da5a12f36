import { untrack } from 'svelte';
import { SvelteMap } from 'svelte/reactivity';
import type { Action } from '#contract/access';
import type { CardProgress } from '#contract/cards';
import type { Mine } from '#contract/films';
import type { Clip, Seen } from '#contract/footage';
import type { ClipsWhole, FilmEvent, Presence, Progress, Snapshot } from '#contract/live';
import type { TrackProgress } from '#contract/music';
import type { StringOutProgress } from '#contract/stringout';
import { api, apiUnder, CLIENT, type Api } from '../api/client.ts';
import { ApiProblem } from '../api/problem.ts';
import { FilmConnection, type Look } from './connection.ts';
import { EventOrder } from './event-order.ts';
import { Holding } from './holding.ts';
import { Mirror } from './mirror.svelte.ts';
import { Strokes, united } from './strokes.svelte.ts';

const EVENTS_AT_ONCE = 1000;
const RETRY_MS = 2000;

/*
 * A film as this page has it, kept in step with the server.
 * States: joining (loaded, not yet in step) -> open -> cut (connection lost; what is shown is as of then) -> open;
 * gone (the person is no longer a member), which is final. Changes go out through `api` and come back as events like
 * everybody else's; nothing is shown before the server has said yes.
 */
export class FilmState extends Mirror {
  readonly id: string;
  /** The API under /api/films/<this film>: `film.api.post('/selects', …)`. */
  readonly api: Api;
  connection: 'joining' | 'open' | 'cut' | 'gone' = $state('joining');
  /** Number of the newest event shown here: rises with every change. */
  seq = $state(0);
  /** Who looks at this page, as what, and what they may do. */
  mine: Mine = $state.raw() as Mine;
  /** Who is here, one entry a tab, this one included. */
  people: Presence['people'] = $state.raw([]);
  /** What was watched, by clip; of those that are held. */
  readonly seen = new SvelteMap<string, Seen>();
  /** Jobs under way, by clip. */
  readonly progress = new SvelteMap<string, Progress>();
  /** Work on tracks under way, by track. */
  readonly trackProgress = new SvelteMap<string, TrackProgress>();
  /** Checksums being made for the lists of a card, by card. */
  readonly cardProgress = new SvelteMap<string, CardProgress>();

  /** What this person does with one stroke each, shown at once. */
  readonly strokes: Strokes;
  /** How far the newest string-out is, as told since the page was opened. */
  stringOutProgress: StringOutProgress | null = $state.raw(null);
  readonly #order: EventOrder;
  readonly #holding: Holding;
  /** What is on offer is held as long as it is. */
  readonly #offered = new Map<string, () => void>();
  readonly #connection: FilmConnection;
  readonly #listeners = new Set<(event: FilmEvent) => void>();
  /** Clips whose job ended since the page follows the film. */
  readonly #ended = new Set<string>();
  readonly #seenListeners = new Set<(clipId: string, crew: [number, number][]) => void>();
  readonly #can = $derived(new Set<Action>(this.mine.can));
  #loading = false;
  #closed = false;

  /** Loads a film and follows it until `close`. Throws ApiProblem. */
  static async open(id: string, signal?: AbortSignal): Promise<FilmState> {
    return new FilmState(id, await api.get<Snapshot>(`/api/films/${id}/state`, signal ? { signal } : {}));
  }

  constructor(id: string, snapshot: Snapshot) {
    super();
    this.id = id;
    this.api = apiUnder(`/api/films/${id}`, () => {
      // Without a socket one's own change would not come back.
      if (this.connection !== 'open') this.#order.fill().catch(() => {});
    });
    this.#order = new EventOrder(
      snapshot.seq,
      (event) => this.#apply(event),
      (seq) => api.get<FilmEvent[]>(`/api/films/${id}/events?after=${seq}&limit=${EVENTS_AT_ONCE}`),
    );
    this.#holding = new Holding({
      load: (ids) => this.api.get<ClipsWhole>(`/state/clips?${new URLSearchParams(ids.map((one) => ['id', one])).toString()}`),
      put: (ids, { rows, seen }) => {
        this.replaceClips(ids, rows);
        for (const one of ids) this.seen.delete(one);
        for (const one of seen) this.seen.set(one.id, one);
      },
      change: (rows) => this.upsert(rows),
      drop: (ids) => {
        this.replaceClips(ids, {});
        for (const one of ids) this.seen.delete(one);
      },
    });
    this.#adopt(snapshot);
    this.strokes = new Strokes(this);
    this.#connection = new FilmConnection(id, {
      seq: () => this.#order.seq,
      event: (event) => !this.#loading && this.#order.take(event),
      progress: (progress) => this.#hearProgress(progress),
      track: (progress) => this.tracks.get(progress.trackId)?.state === 'working' && this.trackProgress.set(progress.trackId, progress),
      card: (progress) => this.cards.get(progress.cardId)?.manifests.some(({ state }) => state === 'working') && this.cardProgress.set(progress.cardId, progress),
      stringOut: (progress) => (this.stringOutProgress = progress),
      presence: (people) => (this.people = people),
      seen: (clipId, crew) => this.#hearSeen(clipId, crew),
      joined: () => {
        this.connection = 'open';
        void this.strokes.outbox.send();
      },
      cut: () => this.connection !== 'gone' && (this.connection = 'cut'),
      reload: () => void this.#reload(),
    });
  }

  /** Whether the person may do this here: what may not be done is not shown. */
  can(action: Action): boolean {
    return this.#can.has(action);
  }

  /** Hears every event after it was applied, own ones too (`isOwn` tells); the function answered stops it. */
  listen(listener: (event: FilmEvent) => void): () => void {
    this.#listeners.add(listener);
    return () => this.#listeners.delete(listener);
  }

  /** Hears what the crew has seen of a clip by now, whenever somebody watches; the function answered stops it. */
  listenSeen(listener: (clipId: string, crew: [number, number][]) => void): () => void {
    this.#seenListeners.add(listener);
    return () => this.#seenListeners.delete(listener);
  }

  /** Whether this tab asked for it. */
  isOwn(event: FilmEvent): boolean {
    return event.client === CLIENT;
  }

  /** Tells the others what is looked at here; may be called at every frame. */
  look(look: Look): void {
    this.#connection.look(look);
  }

  /** This person watched stretches of a clip, in frames, half-open. */
  saw(clipId: string, ranges: [number, number][]): void {
    const { mine, crew } = this.seen.get(clipId) ?? { mine: [], crew: [] };
    this.hearOwnSeen({ id: clipId, mine: united([...mine, ...ranges]), crew: united([...crew, ...ranges]) });
    this.strokes.saw(clipId, ranges);
  }

  /** What was watched of a clip by now, with what this person did. */
  hearOwnSeen(seen: Seen): void {
    if (this.clips.has(seen.id)) this.seen.set(seen.id, seen);
  }

  /**
   * Holds clips, with all that is on them, while something looks at them; they come at once where they are here already.
   * @returns a function that lets them go. As an effect: `$effect(() => film.hold([id]))`.
   */
  hold(clipIds: readonly string[]): () => void {
    return untrack(() => {
      const ends = clipIds.map((id) => this.#holding.hold(id));
      return () => untrack(() => ends.forEach((end) => end()));
    });
  }

  /** Whether all there is of a clip is here: then one without a row is not in the film. */
  isHere(clipId: string): boolean {
    return this.#holding.isHere(clipId);
  }

  /** Folder of the proxy that plays, finished or still being made, or null. */
  proxyOf(clip: Clip): string | null {
    return clip.proxyVersion ?? this.progress.get(clip.id)?.proxyVersion ?? null;
  }

  close(): void {
    this.#closed = true;
    this.#connection.close();
    this.#holding.close();
    this.strokes.close();
    this.#listeners.clear();
  }

  /** Holds what is on offer by now, and lets go of what is not any more. */
  #holdOffered(): void {
    const offered = this.offeredClips();
    for (const [id, end] of this.#offered) {
      if (offered.has(id)) continue;
      this.#offered.delete(id);
      end();
    }
    for (const id of offered) if (!this.#offered.has(id)) this.#offered.set(id, this.hold([id]));
  }

  #adopt(snapshot: Snapshot): void {
    this.#order.reset(snapshot.seq);
    this.seq = snapshot.seq;
    this.mine = snapshot.mine;
    const staying = this.#holding.adopt(snapshot.seq, new Set(snapshot.rows.offers.map(({ clipId }) => clipId)));
    this.replace(snapshot.rows, staying);
    this.#holdOffered();
    for (const id of this.seen.keys()) if (!staying.has(id)) this.seen.delete(id);
    for (const seen of snapshot.seen) this.seen.set(seen.id, seen);
    this.progress.clear();
    this.trackProgress.clear();
    this.cardProgress.clear();
    for (const progress of snapshot.progress) this.progress.set(progress.clipId, progress);
  }

  #apply(event: FilmEvent): void {
    this.upsert(this.#holding.rowsOf(event));
    if (event.rows.offers) this.#holdOffered();
    this.seq = event.seq;
    this.strokes.show();
    for (const clip of event.rows.clips ?? []) {
      if (clip.removedAt || clip.state === 'ready' || clip.state === 'failed') {
        this.progress.delete(clip.id);
        this.#ended.add(clip.id);
      } else this.#ended.delete(clip.id);
    }
    for (const track of event.rows.tracks ?? []) if (track.removedAt || track.state !== 'working') this.trackProgress.delete(track.id);
    for (const card of event.rows.cards ?? []) if (!card.manifests.some(({ state }) => state === 'working')) this.cardProgress.delete(card.id);
    for (const listener of this.#listeners) listener(event);
  }

  #hearSeen(clipId: string, crew: [number, number][]): void {
    if (this.clips.has(clipId)) this.seen.set(clipId, { id: clipId, mine: this.seen.get(clipId)?.mine ?? [], crew });
    for (const listener of this.#seenListeners) listener(clipId, crew);
  }

  /** A message of a job may come later than the event that ended it. */
  #hearProgress(progress: Progress): void {
    if (!this.#ended.has(progress.clipId)) this.progress.set(progress.clipId, progress);
  }

  /** Events that arrive during the loading are dropped: joining afterwards brings all since the snapshot. */
  async #reload(): Promise<void> {
    if (this.#loading || this.#closed) return;
    this.#loading = true;
    try {
      const snapshot = await api.get<Snapshot>(`/api/films/${this.id}/state`);
      if (this.#closed) return;
      this.#adopt(snapshot);
      this.#loading = false;
      this.#connection.join();
    } catch (error) {
      this.#loading = false;
      if (error instanceof ApiProblem && (error.status === 403 || error.status === 404)) {
        this.connection = 'gone';
        this.close();
      } else if (!this.#closed) {
        this.connection = 'cut';
        window.setTimeout(() => void this.#reload(), RETRY_MS);
      }
    }
  }
}
