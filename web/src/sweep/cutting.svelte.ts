import type { Clip } from '#contract/footage';
import type { Item } from '#contract/outline';
import type { Offer } from '#contract/offers';
import type { Select } from '#contract/selects';
import type { FrameRange } from '#core/range.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { nudged, Trimming } from '../strip/trimming.svelte.ts';
import { say, sayFault, tried } from '../ui/say.svelte.ts';

/*
 * In, out and the select in hand, for one clip.
 *   chosen:  a select was taken in hand on purpose; in and out are its own, and setting them adjusts it
 *   dropped: nothing is chosen; in and out are a stretch about to be dropped. The select dropped last stays in hand for
 *            circling, words and offering, but the next in and out begin a new one, so watching goes on without a stroke
 */
export class Cutting {
  in: number | null = $state(null);
  outExclusive: number | null = $state(null);
  chosenId: string | null = $state(null);
  #droppedId: string | null = $state(null);
  readonly #film: FilmState;
  readonly #clip: () => Clip;
  readonly #trimming: Trimming<Select>;
  #queue: Promise<void> = Promise.resolve();

  constructor(film: FilmState, clip: () => Clip) {
    this.#film = film;
    this.#clip = clip;
    this.#trimming = new Trimming<Select>({
      rowOf: (id) => film.selects.get(id),
      send: (id, range) => film.api.patch(`/selects/${id}`, range),
      done: (before) => say('Select adjusted.', { undo: () => film.api.patch(`/selects/${before.id}`, { in: before.in, outExclusive: before.outExclusive }) }),
      refused: sayFault,
    });
  }

  /** Selects of the clip by in, as they are trimmed on this screen. */
  readonly selects = $derived.by(() => this.#film.selectsOf(this.#clip().id).map((select) => this.#trimming.shown(select)));
  readonly chosen = $derived.by(() => this.selects.find(({ id }) => id === this.chosenId) ?? null);
  /** What circling, words, deleting and offering mean: the chosen one, or the one dropped last. */
  readonly inHand = $derived.by(() => this.chosen ?? this.selects.find(({ id }) => id === this.#droppedId) ?? null);
  /** The stretch between in and out, when it is one. */
  readonly range: FrameRange | null = $derived.by(() => {
    if (this.chosen) return { in: this.chosen.in, outExclusive: this.chosen.outExclusive };
    return this.in !== null && this.outExclusive !== null && this.in < this.outExclusive ? { in: this.in, outExclusive: this.outExclusive } : null;
  });

  choose(id: string | null): void {
    this.chosenId = id;
  }

  setIn(frame: number): void {
    if (this.chosen) return this.#trim(this.chosen, { in: frame, outExclusive: Math.max(this.chosen.outExclusive, frame + 1) });
    this.in = frame;
    if (this.outExclusive !== null && this.outExclusive <= frame) this.outExclusive = null;
  }

  /** The frame on screen is the last one inside. */
  setOut(frame: number): void {
    if (this.chosen) return this.#trim(this.chosen, { in: Math.min(this.chosen.in, frame), outExclusive: frame + 1 });
    this.outExclusive = frame + 1;
    if (this.in !== null && this.in > frame) this.in = null;
  }

  /** Moves in or out by frames: of the chosen select, or of the stretch about to be dropped. */
  nudge(by: { in?: number; out?: number }): void {
    const frames = this.#clip().frames;
    if (!this.range || frames === null) return;
    const range = nudged(this.range, by, frames);
    if (this.chosen) return this.#trim(this.chosen, range);
    this.in = range.in;
    this.outExclusive = range.outExclusive;
  }

  clear(): void {
    this.in = this.outExclusive = this.chosenId = this.#droppedId = null;
  }

  /** Drops the stretch between in and out as a select. */
  drop(): Promise<void> {
    return this.#next(() => this.#drop());
  }

  /** Makes a stretch that was suggested a select; in and out as they are set stay. */
  accept({ in: first, outExclusive }: FrameRange): Promise<void> {
    return this.#next(async () => {
      // A second stroke may come before the first one's select does.
      if (!this.selects.some((select) => select.in === first && select.outExclusive === outExclusive)) await this.#make({ in: first, outExclusive });
    });
  }

  circle(id?: string): Promise<void> {
    return this.#next(async () => {
      const select = this.#meant(id);
      if (!select) return say('Choose a select first.', { failed: true });
      const circled = !select.circled;
      await this.#film.api.patch(`/selects/${select.id}`, { circled });
      say(circled ? 'Circled.' : 'Circle taken away.', { undo: () => this.#film.api.patch(`/selects/${select.id}`, { circled: !circled }) });
    });
  }

  label(text: string, id?: string): Promise<void> {
    return this.#next(async () => {
      const select = this.#meant(id);
      if (!select || select.label === text) return;
      await this.#film.api.patch(`/selects/${select.id}`, { label: text });
      say('Words of the select changed.', { undo: () => this.#film.api.patch(`/selects/${select.id}`, { label: select.label }) });
    });
  }

  remove(id?: string): Promise<void> {
    return this.#next(async () => {
      const select = this.#meant(id);
      if (!select) return say('Choose a select first.', { failed: true });
      await this.#film.api.del(`/selects/${select.id}`);
      say('Select deleted.', { undo: () => this.#film.api.post(`/selects/${select.id}/restore`) });
    });
  }

  /** Offers the select in hand for a slot; a stretch between in and out that is not a select yet is dropped first. */
  offer(slot: Item): Promise<void> {
    return this.#next(async () => {
      const fresh = !this.chosen && this.range !== null;
      if (fresh) await this.#drop();
      const select = fresh || (this.in === null && this.outExclusive === null) ? this.inHand : this.chosen;
      if (!select) return say('Choose a select first, or set in and out.', { failed: true });
      const made = await this.#film.api.post<Offer>('/offers', { slotId: slot.id, selectId: select.id });
      say(`Offered for ${slot.name}.`, { undo: () => this.#film.api.del(`/offers/${made.id}`) });
    });
  }

  async #drop(): Promise<void> {
    const range = this.range;
    if (this.chosen) return;
    if (!range) return say('Set in and out first.', { failed: true });
    // At once, so that the next in can be set while this one is on its way; put back if it is refused.
    this.in = this.outExclusive = null;
    await this.#make(range).catch((error: unknown) => {
      if (this.in === null && this.outExclusive === null) [this.in, this.outExclusive] = [range.in, range.outExclusive];
      throw error;
    });
  }

  async #make(range: FrameRange): Promise<void> {
    const made = await this.#film.api.post<Select>('/selects', { clipId: this.#clip().id, ...range });
    // Its event may come after the answer, and the next stroke may mean it already.
    if (!this.#film.selects.has(made.id)) this.#film.upsert({ selects: [made] });
    this.#droppedId = made.id;
    say('Select dropped.', { undo: () => this.#film.api.del(`/selects/${made.id}`) });
  }

  #meant(id: string | undefined): Select | null {
    return id === undefined ? this.inHand : (this.selects.find((select) => select.id === id) ?? null);
  }

  #trim(select: Select, range: FrameRange): void {
    const { id } = select;
    void this.#trimming.trim(this.#film.selects.get(id) ?? select, range);
  }

  /** Strokes are quicker than the server: each waits for the one before, so that "drop, circle, offer" mean one select. */
  #next(work: () => Promise<unknown>): Promise<void> {
    const before = this.#queue;
    this.#queue = tried(() => before.then(work)).then(() => {});
    return this.#queue;
  }
}
