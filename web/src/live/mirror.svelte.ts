import { SvelteMap } from 'svelte/reactivity';
import type { Card } from '#contract/cards';
import type { Family } from '#contract/families';
import type { Clip } from '#contract/footage';
import type { Film, Member } from '#contract/films';
import type { Upload } from '#contract/intake';
import type { Rows, TableName, Tables } from '#contract/live';
import type { Mark, Tie, Track } from '#contract/music';
import type { Note } from '#contract/notes';
import type { Offer } from '#contract/offers';
import type { Item } from '#contract/outline';
import type { Select } from '#contract/selects';
import { budgetOf, type Budget } from '#core/budget.ts';
import { outlineOrder, type Line } from '#core/outline.ts';
import { slotState, type SlotState } from '#core/slot-state.ts';
import { withStrokes, type Shows } from './strokes.svelte.ts';

type Row = Tables[TableName];

/** Code units, as the server compares: no collation, so both sides have one order. */
const compare = (a: string, b: string) => (a < b ? -1 : a > b ? 1 : 0);
const byOrderKey = (a: { orderKey: string; id: string }, b: { orderKey: string; id: string }) => compare(a.orderKey, b.orderKey) || compare(a.id, b.id);
const byIn = (a: { in: number; outExclusive: number; id: string }, b: { in: number; outExclusive: number; id: string }) =>
  a.in - b.in || a.outExclusive - b.outExclusive || compare(a.id, b.id);
const byTime = (a: Note, b: Note) => compare(a.writtenAt, b.writtenAt) || compare(a.id, b.id);
const byMoment = (a: Mark, b: Mark) => a.atMs - b.atMs || compare(a.id, b.id);
const byReceipt = (a: Track, b: Track) => compare(a.receivedAt, b.receivedAt) || compare(a.id, b.id);
const byFrame = (a: Note, b: Note) => (a.in ?? 0) - (b.in ?? 0) || byTime(a, b);

function grouped<T>(rows: Iterable<T>, keyOf: (row: T) => string | null, order: (a: T, b: T) => number): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const row of rows) {
    const key = keyOf(row);
    if (key === null) continue;
    const group = groups.get(key);
    if (group) group.push(row);
    else groups.set(key, [row]);
  }
  for (const group of groups.values()) group.sort(order);
  return groups;
}

/** Tables whose rows belong to a clip, or are one. */
const CLIP_TABLES = ['clips', 'selects', 'notes'] as const;
type ClipTable = (typeof CLIP_TABLES)[number];

/** The clip a row is, or is on; null for any other. */
function clipOf(table: TableName, row: Row): string | null {
  if (table === 'clips') return row.id;
  return table === 'selects' || table === 'notes' ? (row as Select | Note).clipId : null;
}

/** Files that arrived are clips, or kept beside them; the page lists those on their way and those that were refused. */
const hasLeft = (row: Row): boolean => ('removedAt' in row && row.removedAt !== null && row.removedAt !== undefined) || ('sourcePath' in row && row.state !== 'arriving' && row.state !== 'refused');

function show(map: SvelteMap<string, Row>, id: string, row: Row | null): void {
  if (row) map.set(id, row);
  else map.delete(id);
}

const NONE: readonly never[] = Object.freeze([]);

/** The rows of a film as the page has them, by id, and the questions rooms ask of them. Rows are replaced whole. Of clips, and what is on them, it has those that are held (holding.ts). */
export class Mirror {
  /** The film itself: title, rate, running time. */
  row: Film = $state.raw() as Film;
  readonly members = new SvelteMap<string, Member>();
  readonly items = new SvelteMap<string, Item>();
  readonly clips = new SvelteMap<string, Clip>();
  readonly uploads = new SvelteMap<string, Upload>();
  readonly cards = new SvelteMap<string, Card>();
  readonly selects = new SvelteMap<string, Select>();
  readonly offers = new SvelteMap<string, Offer>();
  readonly notes = new SvelteMap<string, Note>();
  readonly tracks = new SvelteMap<string, Track>();
  readonly marks = new SvelteMap<string, Mark>();
  readonly ties = new SvelteMap<string, Tie>();
  readonly families = new SvelteMap<string, Family>();

  readonly #familyByClip = $derived(new Map([...this.families.values()].flatMap((family) => family.members.map(({ clipId }) => [clipId, family] as const))));
  readonly #names = new Map<string, string>();
  /** Rows that strokes lie over, as the server has them. */
  readonly #beneath = new Map<string, { row: Row | null; strokes: readonly Shows[] }>();
  readonly #selectsByClip = $derived(grouped(this.selects.values(), (select) => select.clipId, byIn));
  readonly #offersBySlot = $derived(grouped(this.offers.values(), (offer) => offer.slotId, byOrderKey));
  readonly #offersByClip = $derived(grouped(this.offers.values(), (offer) => offer.clipId, byOrderKey));
  readonly #offersBySelect = $derived(grouped(this.offers.values(), (offer) => offer.selectId, byOrderKey));
  readonly #notesBySubject = $derived(grouped(this.notes.values(), (note) => note.parentId ?? note.offerId ?? note.slotId ?? note.clipId, byTime));
  readonly #notesByClip = $derived(grouped(this.notes.values(), (note) => (note.parentId === null ? note.clipId : null), byFrame));
  readonly #marksByTrack = $derived(grouped(this.marks.values(), (mark) => mark.trackId, byMoment));
  readonly #tiesByLine = $derived(new Map([...this.ties.values()].map((tie) => [tie.itemId, tie])));
  readonly #tiesByMark = $derived(grouped([...this.ties.values()].filter(({ itemId }) => this.items.has(itemId)), (tie) => tie.markId, (a, b) => compare(a.id, b.id)));
  /** Candidate tracks, oldest first. */
  readonly candidates: readonly Track[] = $derived([...this.tracks.values()].sort(byReceipt));
  /** The track that was chosen, or null. */
  readonly lockedTrack: Track | null = $derived(this.candidates.find(({ locked }) => locked) ?? null);
  /** The outline from top to bottom, as a tree with numbers. */
  readonly lines: readonly Line<Item>[] = $derived(outlineOrder([...this.items.values()]));
  /** What each line gets of the running time. */
  readonly budget: Budget = $derived.by(() => budgetOf(this.lines, this.row.targetFrames, this.row.rate));
  /** The slots in outline order. */
  readonly slots: readonly Item[] = $derived(this.lines.map(({ row }) => row).filter(({ kind }) => kind === 'slot'));

  /** Takes rows as events carry them: each replaces its former self; one with `removedAt` leaves. */
  upsert(rows: Rows): void {
    for (const film of rows.film ?? []) this.row = film;
    for (const member of rows.members ?? []) this.#names.set(member.id, member.name);
    for (const [table, map] of this.#tables()) {
      for (const row of rows[table] ?? []) {
        this.#put(table, map, row.id, hasLeft(row) ? null : row);
      }
    }
  }

  /**
   * Puts what is on its way to the server over the rows, as it will be when it has arrived; the rows beneath go on as the
   * server says.
   * @param before what lay over them until now
   */
  overlay(strokes: readonly Shows[], before: readonly Shows[]): void {
    const byRow = Map.groupBy(strokes, ({ table, id }) => `${table}/${id}`);
    for (const { table, id } of [...before, ...strokes]) {
      const map = this[table] as SvelteMap<string, Row>;
      const [key, of] = [`${table}/${id}`, byRow.get(`${table}/${id}`) ?? []];
      const beneath = this.#beneath.has(key) ? this.#beneath.get(key)!.row : (map.get(id) ?? null);
      if (of.length) this.#beneath.set(key, { row: beneath, strokes: of });
      else this.#beneath.delete(key);
      show(map, id, withStrokes(beneath, of));
    }
  }

  #put(table: TableName, map: SvelteMap<string, Row>, id: string, row: Row | null): void {
    const over = this.#beneath.get(`${table}/${id}`);
    if (over) over.row = row;
    show(map, id, over ? withStrokes(row, over.strokes) : row);
  }

  /** Takes a snapshot: what is not in it leaves, but for what is on the clips named. */
  replace(rows: Rows, staying: ReadonlySet<string>): void {
    for (const [table, map] of this.#tables()) {
      const kept = new Set((rows[table] ?? []).map((row) => row.id));
      for (const [id, row] of map) if (!kept.has(id) && !staying.has(clipOf(table, row) ?? '')) this.#put(table, map, id, null);
    }
    this.upsert(rows);
  }

  /** Takes clips with all that is on them: whatever else is on them here leaves. */
  replaceClips(ids: readonly string[], rows: Pick<Rows, ClipTable>): void {
    const theirs = new Set(ids);
    for (const table of CLIP_TABLES) {
      const kept = new Set((rows[table] ?? []).map((row) => row.id));
      const map = this[table] as SvelteMap<string, Row>;
      for (const [id, row] of map) if (!kept.has(id) && theirs.has(clipOf(table, row) ?? '')) this.#put(table, map, id, null);
    }
    this.upsert(rows);
  }

  /** Selects of a clip, by their in. */
  selectsOf(clipId: string): readonly Select[] {
    return this.#selectsByClip.get(clipId) ?? NONE;
  }

  /** The family a clip is in, or null. */
  familyOf(clipId: string): Family | null {
    return this.#familyByClip.get(clipId) ?? null;
  }

  /** Offers for a slot, in their order. */
  offersOf(slotId: string): readonly Offer[] {
    return this.#offersBySlot.get(slotId) ?? NONE;
  }

  /** Clips with an offer. */
  offeredClips(): ReadonlySet<string> {
    return new Set(this.#offersByClip.keys());
  }

  /** Offers made of a select. */
  offersFrom(selectId: string): readonly Offer[] {
    return this.#offersBySelect.get(selectId) ?? NONE;
  }

  /** Notes right on a clip, offer or slot, or the replies below a note; oldest first. */
  notesOn(subjectId: string): readonly Note[] {
    return this.#notesBySubject.get(subjectId) ?? NONE;
  }

  /** Every note that speaks of a clip, on itself or on offers made of it, without replies; by frame. */
  notesOfClip(clipId: string): readonly Note[] {
    return this.#notesByClip.get(clipId) ?? NONE;
  }

  /** What the budget gives a line, in frames of the film. */
  plannedFor(itemId: string): number {
    return this.budget.lines.get(itemId)?.frames ?? 0;
  }

  /** Marks of a track, in order of time. */
  marksIn(trackId: string): readonly Mark[] {
    return this.#marksByTrack.get(trackId) ?? NONE;
  }

  /** The tie of a line, or null. */
  tieOf(itemId: string): Tie | null {
    return this.#tiesByLine.get(itemId) ?? null;
  }

  /** Ties to a mark whose lines stand in the outline. */
  tiesTo(markId: string): readonly Tie[] {
    return this.#tiesByMark.get(markId) ?? NONE;
  }

  /** The one approved offer of a slot, or null. */
  pickOf(slotId: string): Offer | null {
    return this.offersOf(slotId).find((offer) => offer.verdict === 'approve') ?? null;
  }

  /** Where a slot stands. */
  standingOf(slotId: string): SlotState<Offer> {
    return slotState(this.offersOf(slotId));
  }

  /** The name of a member, also of one who left while the page was open. */
  nameOf(userId: string | null): string {
    if (userId === null) return 'the server';
    return this.members.get(userId)?.name ?? this.#names.get(userId) ?? 'somebody who has left';
  }

  #tables(): [Exclude<TableName, 'film'>, SvelteMap<string, Row>][] {
    const { members, items, clips, uploads, cards, selects, offers, notes, tracks, marks, ties, families } = this;
    return Object.entries({ members, items, clips, uploads, cards, selects, offers, notes, tracks, marks, ties, families }) as never;
  }
}
