import type { Item, ItemChange, Place } from '#contract/outline';
import { budgetOf, type Budget } from '#core/budget.ts';
import { outlineOrder } from '#core/outline.ts';
import { placeDown, placeIn, placeOut, placeUp, siblingsOf } from '#core/outline-moves.ts';
import { sameWish, type Wish } from '#core/wish.ts';
import type { ApiProblem } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { Outbox } from '../live/outbox.svelte.ts';
import { remember, say } from '../ui/say.svelte.ts';
import { newId } from '../live/new-id.ts';
import { sendChange } from './sending.ts';
import { withPending, type Change, type Pending } from './pending.ts';
import { sawOf } from './removals.ts';
import { kindWord, nameOf, type ItemLine } from './words.ts';
import { linesFor, WORDS, wordsIn, writtenIn } from './words-kept.ts';

export type Step = 'up' | 'down' | 'in' | 'out';
export type LineField = 'name' | 'length';

const NO_STEP: Record<Step, string> = {
  up: 'It goes no further up.',
  down: 'It goes no further down.',
  in: 'There is no part right before it to go into.',
  out: 'It goes no further out; a slot stays inside a part.',
};

/** So often a line that lost its place gets another one, in an outline that others change meanwhile. */
const RESCUES = 5;

/** A line being written, which the server does not have yet. */
export interface NewLine {
  kind: 'part' | 'slot';
  place: Place;
}


/**
 * What a person does to the outline of a film. Every change shows at once and goes to the server through the outbox,
 * because typing must not wait for a bad link; where the server says otherwise, that shows, and is said.
 */
export class OutlineEditor {
  readonly film: FilmState;
  readonly outbox: Outbox<Change, readonly Item[]>;
  /** What this page's removals took away, by their ids. */
  readonly #removals = new Map<string, readonly Item[]>();
  readonly lines: readonly ItemLine[] = $derived.by(() => outlineOrder(withPending(this.film.items.values(), this.outbox.unseen, this.#removals)));
  /** What each line gets, also of changes that are still on their way. */
  readonly budget: Budget = $derived.by(() => budgetOf(this.lines, this.film.row.targetFrames, this.film.row.rate));
  readonly mayEdit: boolean = $derived.by(() => this.film.can('outline.edit'));
  readonly #byId = $derived(new Map(this.lines.map((line) => [line.row.id, line])));
  /** A length that is being typed and not yet accepted. */
  #proposal: { id: string; wish: Wish } | null = $state.raw(null);
  /** The outline and its budget as they would be with that length; null while nothing is typed that would change one. */
  readonly proposed: { id: string; lines: readonly ItemLine[]; budget: Budget } | null = $derived.by(() => {
    const proposal = this.#proposal;
    const row = this.lineOf(proposal?.id ?? null)?.row;
    if (!proposal || !row || sameWish(row.wish, proposal.wish)) return null;
    const { targetFrames, rate } = this.film.row;
    const lines = outlineOrder(this.lines.map((line) => (line.row === row ? { ...row, wish: proposal.wish } : line.row)));
    return { id: row.id, lines, budget: budgetOf(lines, targetFrames, rate) };
  });
  #currentId: string | null = $state(null);
  readonly #current: string | null = $derived.by(() => this.lineOf(this.#currentId)?.row.id ?? this.lines[0]?.row.id ?? null);
  /** The field that gets the focus as soon as it is there. */
  wanted: { id: string; field: LineField } | null = $state.raw(null);
  newLine: NewLine | null = $state.raw(null);
  /** What is typed into the line being written. */
  newName = $state('');
  /** What was just done, to be read out. */
  told = $state('');
  /** Set while lines change places on the page: a field that loses the focus by that was not left by the person. */
  arranging = false;

  constructor(film: FilmState) {
    this.film = film;
    this.outbox = new Outbox(film, {
      own: 'outline',
      send: (change, options) => sendChange(film.api, change, options),
      arrived: (change, items) => {
        if (change.what === 'remove') this.#removals.set(change.removalId, items.map((row) => ({ ...row, removedAt: null, removalId: null })));
        this.#tellMerged(change, items);
      },
      refused: (change, problem) => this.#refused(change, problem),
      setAside: ({ why }) => say(`A change of yours is set aside above the outline, and the others go on. ${why}`, { failed: true }),
    });
    void this.outbox.send();
  }

  /** The line whose controls are in the order of Tab: the one last worked on, or the first. */
  get currentId(): string | null {
    return this.#current;
  }

  set currentId(id: string | null) {
    this.#currentId = id;
  }

  lineOf(id: string | null): ItemLine | null {
    return id === null ? null : (this.#byId.get(id) ?? null);
  }

  /** Opens a line to write in: of the same kind right below, or of the other kind (a slot in a part, a part after a slot). */
  writeBelow(line: ItemLine, other = false): void {
    this.newLine = below(line.row, other);
  }

  /** Opens a line to write a sequence in, at the end. */
  writeAtEnd(): void {
    this.newLine = { kind: 'part', place: { parentId: null, afterId: this.lines.findLast(({ depth }) => depth === 0)?.row.id ?? null } };
  }

  /** Puts the line being written away, with what is typed in it. */
  dropNewLine(): void {
    const { newLine } = this;
    this.newLine = null;
    this.newName = '';
    const back = this.lineOf(newLine?.place.afterId ?? newLine?.place.parentId ?? null);
    if (back) this.focus(back);
  }

  /** Moves the line being written one level in or out. */
  shiftNewLine(step: 'in' | 'out'): void {
    if (!this.newLine) return;
    const { kind, place } = this.newLine;
    if (step === 'in') {
      const before = this.lineOf(place.afterId);
      if (before?.row.kind !== 'part') return this.tell(NO_STEP.in);
      this.newLine = { kind, place: { parentId: before.row.id, afterId: before.children.at(-1)?.row.id ?? null } };
    } else {
      const parent = this.lineOf(place.parentId);
      if (!parent || (kind === 'slot' && !parent.parent)) return this.tell(NO_STEP.out);
      this.newLine = { kind, place: { parentId: parent.row.parentId, afterId: parent.row.id } };
    }
    this.tell(`New ${kind} in ${this.#partName(this.newLine.place.parentId)}.`);
  }

  /**
   * Makes the line being written.
   * @param then what to write next: a line of the same kind, of the other kind, or nothing
   */
  make(then: 'same' | 'other' | null): void {
    const name = this.newName.trim();
    const writing = this.newLine;
    if (!writing || !name) return;
    this.newName = '';
    const line = this.#make(writing.kind, name, writing.place);
    this.newLine = then ? below(line, then === 'other') : null;
    this.tell(`${name} is in ${this.#partName(writing.place.parentId)}.`);
  }

  /** Divides the name of a line in two: what is after the caret becomes a line of the same kind below. */
  split(line: ItemLine, before: string, after: string): void {
    this.change(line.row.id, { name: before.trim() }, { name: line.row.name });
    const { id } = this.#make(line.row.kind, after.trim(), below(line.row, false).place);
    this.wanted = { id, field: 'name' };
  }

  /**
   * Changes what is written on a line.
   * @param seen words as they were when the person began to change them: what others write meanwhile is merged in
   */
  change(id: string, change: ItemChange, seen: NonNullable<ItemChange['was']> = {}): void {
    const line = this.lineOf(id);
    const put = (fields: ItemChange, was: NonNullable<ItemChange['was']>): void => this.outbox.add({ what: 'change', id, change: { ...fields, ...(Object.keys(was).length > 0 ? { was } : {}) } });
    put(change, seen);
    if (!line) return;
    const old = Object.fromEntries(Object.keys(change).map((field) => [field, line.row[field as keyof Item]])) as ItemChange;
    const [had, has] = [wordsIn(old), wordsIn(change)];
    remember({ undo: () => put(old, has), again: () => put(change, had) });
  }

  /** Shows what a length would do to the others, without changing it; null ends that. */
  propose(id: string, wish: Wish | null): void {
    if (wish) this.#proposal = { id, wish };
    else if (this.#proposal?.id === id) this.#proposal = null;
  }

  /** A line as it stands now: what was just typed in it has made the page anew. */
  #now(line: ItemLine): ItemLine {
    return this.lineOf(line.row.id) ?? line;
  }

  /** Moves a line by one step, and says where it went, or why it does not go. */
  step(before: ItemLine, step: Step): void {
    const { lines } = this;
    const line = this.#now(before);
    const place = { up: () => placeUp(lines, line), down: () => placeDown(lines, line), in: () => placeIn(lines, line), out: () => placeOut(line) }[step]();
    if (!place) return this.tell(NO_STEP[step]);
    this.#move(line, place);
    this.tell(this.#whereWords(line, place));
  }

  /** Moves a line to a place that was pointed at. */
  drop(before: ItemLine, place: Place): void {
    const line = this.#now(before);
    const was = this.#placeOf(line);
    if (was.parentId === place.parentId && was.afterId === place.afterId) return;
    const words = this.#whereWords(line, place);
    this.#move(line, place, words);
  }

  /** Takes a line away with everything in it; the focus goes to the line before. */
  remove(before: ItemLine): void {
    const line = this.#now(before);
    const at = this.lines.indexOf(line);
    const neighbour = this.lines[at - 1] ?? this.lines.slice(at + 1).find(({ depth }) => depth <= line.depth);
    const more = this.lines.slice(at + 1).findIndex(({ depth }) => depth <= line.depth);
    const inside = more < 0 ? this.lines.length - at - 1 : more;
    const { id } = line.row;
    const removal = this.#removal(id);
    removal.again();
    say(`Removed: ${nameOf(line)}${inside > 0 ? `, with ${inside} ${inside === 1 ? 'line' : 'lines'} in it` : ''}.`, {
      ...removal,
      undo: () => {
        removal.undo();
        this.wanted = { id, field: 'name' };
      },
    });
    if (neighbour) this.focus(neighbour);
  }

  /** Puts the focus on a line. */
  focus(line: ItemLine, field: LineField = 'name'): void {
    this.wanted = { id: line.row.id, field };
  }

  /** Goes to where a line can be worked on; for who may not change it, to the line on the page. */
  goTo(line: ItemLine, field: LineField = 'length'): void {
    this.currentId = line.row.id;
    if (this.mayEdit) this.focus(line, field);
    else document.querySelector(`[data-line="${line.row.id}"]`)?.scrollIntoView({ block: 'center' });
  }

  /** Goes to the next line below that does not add up, or on from the top; says so when there is none. */
  goToConflict(from: ItemLine): void {
    const wrong = this.lines.filter(({ row }) => this.budget.conflicts.some(({ id }) => id === row.id));
    const next = wrong.find((line) => this.lines.indexOf(line) > this.lines.indexOf(from)) ?? wrong[0];
    if (next) this.goTo(next);
    else this.tell('Every line adds up.');
  }

  /** Goes one line down or up the page; false where the page ends. */
  go(line: ItemLine, by: -1 | 1, field: LineField = 'name'): boolean {
    const next = this.lines[this.lines.indexOf(this.#now(line)) + by];
    if (next) this.focus(next, field);
    return next !== undefined;
  }

  tell(text: string): void {
    this.told = text;
  }

  #make(kind: NewLine['kind'], name: string, place: Place): Pick<Item, 'id' | 'kind' | 'parentId'> {
    const id = newId();
    this.outbox.add({ what: 'make', id, kind, name, place });
    const removal = this.#removal(id);
    remember({ undo: removal.again, again: removal.undo });
    return { id, kind, parentId: place.parentId };
  }

  /** Taking a line away, and bringing it back, as often as wanted; each time it is a removal of its own. */
  #removal(id: string): { undo(): void; again(): void } {
    let removalId = newId();
    return {
      undo: () => this.outbox.add({ what: 'restore', removalId }),
      again: () => {
        removalId = newId();
        const line = this.lineOf(id);
        // Otherwise somebody else has removed it already.
        if (line) this.outbox.add({ what: 'remove', id, removalId, saw: sawOf([line]) });
      },
    };
  }

  #move(line: ItemLine, place: Place, words: string | null = null): void {
    const { id } = line.row;
    const was = this.#placeOf(line);
    const put = (place: Place): void => this.outbox.add({ what: 'move', id, place });
    put(place);
    const both = { undo: () => put(was), again: () => put(place) };
    if (words === null) remember(both);
    else say(words, both);
  }

  #placeOf(line: ItemLine): Place {
    const siblings = siblingsOf(this.lines, line);
    return { parentId: line.row.parentId, afterId: siblings[siblings.indexOf(line) - 1]?.row.id ?? null };
  }

  /** Somebody else wrote in the same words, and the server kept both. */
  #tellMerged(change: Change, [row]: readonly Item[]): void {
    if (change.what !== 'change' || !row) return;
    const merged = WORDS.find((field) => change.change[field] !== undefined && change.change[field] !== row[field]);
    if (merged) say(`Somebody else wrote here at the same time; both texts stay: “${row[merged]}”.`);
  }

  /** What the server refused is said. Words are never lost by it: they get a line of their own. */
  #refused(change: Pending, problem: ApiProblem): void {
    const words = writtenIn(change);
    // A line that is gone already is as the person wanted it.
    if (!words) return void ((change.what === 'remove' && problem.code === 'removed-meanwhile') || say(problem.message, { failed: true }));
    const rescued = change.what === 'make' ? (change.rescued ?? 0) : 0;
    // Who may not write may not write elsewhere either.
    if (problem.status === 403 || rescued === RESCUES) return this.outbox.setAside(change, problem.message);
    const elsewhere = this.#elsewhere(change.what === 'make' ? change.kind : 'slot');
    const lines = linesFor(words).map((line): Change => ({ what: 'make', id: newId(), ...line, ...elsewhere, rescued: rescued + 1 }));
    // A line that was refused keeps its id, so that what was done to it since still finds it; unless another has it.
    if (change.what === 'make' && !problem.faultOf('id')) lines[0] = { ...lines[0]!, id: change.id } as Change;
    this.outbox.addFirst(...lines.toReversed());
    say(`${problem.message} What you wrote is kept: “${words}” now stands in ${this.#partName(elsewhere.place.parentId)}.`, { failed: true });
  }

  /** For a line that has lost its place: the end of the outline as the server has it, since what is on its way may be refused as well. */
  #elsewhere(kind: NewLine['kind']): NewLine {
    const known = outlineOrder([...this.film.items.values()]);
    const last = known.findLast(({ depth }) => depth === 0);
    if (kind === 'part' || !last) return { kind: 'part', place: { parentId: null, afterId: last?.row.id ?? null } };
    return { kind, place: { parentId: last.row.id, afterId: last.children.at(-1)?.row.id ?? null } };
  }

  #whereWords(line: ItemLine, { parentId, afterId }: Place): string {
    const after = this.lineOf(afterId);
    return `${nameOf(line)}: now in ${this.#partName(parentId)}, ${after ? `after ${nameOf(after)}` : 'first'}.`;
  }

  #partName(id: string | null): string {
    const part = this.lineOf(id);
    return part ? nameOf(part) : 'the film';
  }
}

function below({ id, kind, parentId }: Pick<Item, 'id' | 'kind' | 'parentId'>, other: boolean): NewLine {
  if (other && kind === 'part') return { kind: 'slot', place: { parentId: id, afterId: null } };
  return { kind: other ? 'part' : kind, place: { parentId, afterId: id } };
}

/** What the line being written is, in words. */
export function newLineWords({ kind, place }: NewLine): string {
  return `New ${kindWord({ row: { kind }, depth: place.parentId === null ? 0 : 1 }).toLowerCase()}`;
}
