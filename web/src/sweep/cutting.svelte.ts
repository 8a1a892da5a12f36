import type { Clip } from '#contract/footage';
import type { Item } from '#contract/outline';
import type { Select } from '#contract/selects';
import { between } from '#core/order.ts';
import type { FrameRange } from '#core/range.ts';
import { timecodeOf } from '#core/timecode.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { newId } from '../live/new-id.ts';
import { nudged, Trimming } from '../strip/trimming.ts';
import { clockOf } from '../ui/clock.ts';
import { say } from '../ui/say.svelte.ts';

/*
 * In, out and the select in hand, for one clip. Every stroke shows at once and goes out when the server can be reached.
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
  readonly #trimming: Trimming;

  constructor(film: FilmState, clip: () => Clip) {
    this.#film = film;
    this.#clip = clip;
    this.#trimming = new Trimming(film, 'selects', 'Select adjusted.');
  }

  /** Selects of the clip by in. */
  readonly selects = $derived.by(() => this.#film.selectsOf(this.#clip().id));
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
  drop(): void {
    const { range } = this;
    if (this.chosen) return;
    if (!range) return say('Set in and out first.', { failed: true });
    this.in = this.outExclusive = null;
    this.#make(range);
  }

  /** Makes a stretch that was suggested a select; in and out as they are set stay. */
  accept({ in: first, outExclusive }: FrameRange): void {
    if (!this.selects.some((select) => select.in === first && select.outExclusive === outExclusive)) this.#make({ in: first, outExclusive });
  }

  circle(id?: string): void {
    const select = this.#meant(id);
    if (!select) return say('Choose a select first.', { failed: true });
    const circled = !select.circled;
    this.#change(select, { circled });
    this.#said(circled ? 'Circled.' : 'Circle taken away.', () => this.#change(select, { circled: !circled }), () => this.#change(select, { circled }));
  }

  label(text: string, id?: string): void {
    const select = this.#meant(id);
    if (!select || select.label === text) return;
    this.#change(select, { label: text });
    this.#said('Words of the select changed.', () => this.#change(select, { label: select.label }), () => this.#change(select, { label: text }));
  }

  remove(id?: string): void {
    const select = this.#meant(id);
    if (!select) return say('Choose a select first.', { failed: true });
    this.#remove(select);
    this.#said('Select deleted.', () => this.#restore(select), () => this.#remove(select));
  }

  /** Offers the select in hand for a slot; a stretch between in and out that is not a select yet is dropped first. */
  offer(slot: Item): void {
    const fresh = !this.chosen && this.range !== null;
    if (fresh) this.drop();
    const select = fresh || (this.in === null && this.outExclusive === null) ? this.inHand : this.chosen;
    if (!select) return say('Choose a select first, or set in and out.', { failed: true });
    const { strokes, mine } = this.#film;
    const others = this.#film.offersOf(slot.id);
    if (others.some(({ selectId }) => selectId === select.id)) return say(`This select is on offer for ${slot.name} already.`, { failed: true });
    const id = newId();
    const { clipId, in: first, outExclusive } = select;
    const row = {
      ...{ id, slotId: slot.id, selectId: select.id, clipId, in: first, outExclusive, orderKey: between(others.at(-1)?.orderKey ?? null, null) },
      ...{ verdict: 'open' as const, reason: '', decidedById: null, decidedAt: null, offeredById: mine.userId, offeredAt: new Date().toISOString(), cutInAt: null, removedAt: null },
    };
    const words = `The offer for ${slot.name}`;
    strokes.do({ method: 'POST', path: '/offers', body: { id, slotId: slot.id, selectId: select.id, in: first, outExclusive }, words, shows: { table: 'offers', id, row } });
    const takeBack = () => strokes.do({ method: 'DELETE', path: `/offers/${id}`, words, shows: { table: 'offers', id, gone: true } });
    const again = () => strokes.do({ method: 'POST', path: `/offers/${id}/restore`, words, shows: { table: 'offers', id, row } });
    this.#said(`Offered for ${slot.name}.`, takeBack, again);
  }

  #make(range: FrameRange): void {
    const id = newId();
    const clipId = this.#clip().id;
    const row: Select = { id, clipId, in: range.in, outExclusive: range.outExclusive, circled: false, label: '', madeById: this.#film.mine.userId, madeAt: new Date().toISOString(), removedAt: null };
    this.#film.strokes.do({ method: 'POST', path: '/selects', body: { id, clipId, in: row.in, outExclusive: row.outExclusive }, words: this.#wordsFor(row), shows: { table: 'selects', id, row } });
    this.#droppedId = id;
    this.#said('Select dropped.', () => this.#remove(row), () => this.#restore(row));
  }

  #change(select: Select, fields: Partial<Pick<Select, 'circled' | 'label'>>): void {
    this.#film.strokes.do({ method: 'PATCH', path: `/selects/${select.id}`, body: fields, words: this.#wordsFor(select), shows: { table: 'selects', id: select.id, fields } });
  }

  #remove(select: Select): void {
    this.#film.strokes.do({ method: 'DELETE', path: `/selects/${select.id}`, words: this.#wordsFor(select), shows: { table: 'selects', id: select.id, gone: true } });
  }

  #restore(select: Select): void {
    this.#film.strokes.do({ method: 'POST', path: `/selects/${select.id}/restore`, words: this.#wordsFor(select), shows: { table: 'selects', id: select.id, row: select } });
  }

  #meant(id: string | undefined): Select | null {
    return id === undefined ? this.inHand : (this.selects.find((select) => select.id === id) ?? null);
  }

  #trim(select: Select, range: FrameRange): void {
    this.#trimming.trim(select, range, this.#wordsFor(select));
  }

  #said(text: string, undo: () => void, again?: () => void): void {
    this.#trimming.end();
    say(text, { undo, ...(again && { again }) });
  }

  #wordsFor({ in: first }: FrameRange): string {
    const clock = clockOf(this.#clip());
    return `The select at ${clock ? timecodeOf(first, clock) : `frame ${first}`}`;
  }
}
