import { SvelteMap } from 'svelte/reactivity';
import type { Clip, FootageFilter, FootageRow, FootageTable } from '#contract/footage';
import type { FilmEvent } from '#contract/live';
import { wordsOf } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { isEmpty, queryOf } from './filter.ts';

/** A place in the table: the clip at `index` of the cell of a day and a camera. */
export interface Place {
  day: string | null;
  camera: string;
  index: number;
}
export type Cell = Omit<Place, 'index'>;

export const keyOf = ({ day, camera }: Cell): string => `${day ?? 'none'}\n${camera}`;

const PAGE = 60;
/** As many windows as are kept; a page of the table in sight is a few of them. */
const KEPT = 30;
const REFRESH_MS = 200;

/*
 * The table of the footage as far as it is in sight. The counts are here whole, the clips a window of a cell at a time.
 * States: nothing (`table` is null) -> shown -> shown and stale (something changed: the counts and what is in sight are
 * read anew, and what was read stays until they are here).
 */
export class FootageView {
  readonly #film: FilmState;
  filter: FootageFilter = $state.raw({});
  table: FootageTable | null = $state.raw(null);
  failure = $state('');
  /** Rises when what was read is stale. */
  era = $state(0);
  readonly #ids = new SvelteMap<string, readonly (string | undefined)[]>();
  readonly #rows = new SvelteMap<string, FootageRow>();
  /** Windows that were read or are being read, the one longest untouched first. */
  readonly #windows = new Map<string, { cell: string; from: number; read: Promise<void> }>();
  /** Rows that stay, whatever is in sight. */
  readonly #kept: () => ReadonlySet<string>;
  readonly #reread = new Set<string>();
  #timer: number | null = null;
  #stale = false;

  constructor(film: FilmState, kept: () => ReadonlySet<string>) {
    this.#film = film;
    this.#kept = kept;
  }

  /** Follows what others change; the function answered stops it. */
  follow(): () => void {
    const stops = [this.#film.listen((event) => this.#hear(event)), this.#film.listenSeen((clipId, crew) => this.#hearSeen(clipId, crew))];
    return () => {
      for (const stop of stops) stop();
      if (this.#timer !== null) window.clearTimeout(this.#timer);
    };
  }

  /** Asks for something else. */
  ask(filter: FootageFilter): void {
    this.filter = filter;
    this.#ids.clear();
    void this.#refresh();
  }

  rowOf(id: string): FootageRow | undefined {
    return this.#rows.get(id);
  }

  /** The rows of some clips, those that are not here read first; clips that are gone are left out. */
  async rowsOf(ids: readonly string[]): Promise<FootageRow[]> {
    const missing = ids.filter((id) => !this.#rows.has(id));
    for (let n = 0; n < missing.length; n += 200) await this.#readRows(missing.slice(n, n + 200));
    return ids.flatMap((id) => this.#rows.get(id) ?? []);
  }

  /** The id at a place, when its window is here. */
  idAt({ index, ...cell }: Place): string | undefined {
    return this.#ids.get(keyOf(cell))?.[index];
  }

  /** The id at a place, its window read first. */
  async readAt(place: Place): Promise<string | undefined> {
    await this.need(place, place.index, place.index + 1);
    return this.idAt(place);
  }

  /** Reads what is not here of a stretch of a cell. */
  async need(cell: Cell, from: number, to: number): Promise<void> {
    const reads: Promise<void>[] = [];
    for (let start = Math.floor(from / PAGE) * PAGE; start < to; start += PAGE) reads.push(this.#window(cell, start));
    await Promise.all(reads);
  }

  /** Where a clip stands among what is in the windows. */
  placeOf(id: string): Place | null {
    const clip = this.#rows.get(id)?.clip;
    if (!clip) return null;
    const cell = { day: clip.shootDay, camera: clip.camera };
    const index = this.#ids.get(keyOf(cell))?.indexOf(id) ?? -1;
    return index < 0 ? null : { ...cell, index };
  }

  /** Where any clip of the film stands, or null when it is not among what is asked for. */
  async find(id: string): Promise<Place | null> {
    const [row] = await this.rowsOf([id]);
    if (!row) return null;
    const cell = { day: row.clip.shootDay, camera: row.clip.camera };
    const ids = await this.#film.api.get<string[]>(`/footage/ids${queryOf({ ...this.filter, day: cell.day ?? 'none', camera: cell.camera })}`);
    const index = ids.indexOf(id);
    return index < 0 ? null : { ...cell, index };
  }

  /** Ids of all that is asked for, in the order of the table. */
  allIds(): Promise<string[]> {
    return this.#film.api.get<string[]>(`/footage/ids${queryOf(this.filter)}`);
  }

  /** The place after one, or before it, in the order of the table; null at its ends. From null it is the first, or the last. */
  beside(place: Place | null, by: 1 | -1): Place | null {
    const cells = (this.table?.days ?? []).flatMap(({ day, counts }) => counts.flatMap((count, column) => (count ? [{ day, camera: this.table!.cameras[column]!, count }] : [])));
    const ends = ({ day, camera, count }: (typeof cells)[number]): Place => ({ day, camera, index: by === 1 ? 0 : count - 1 });
    const at = place === null ? -1 : cells.findIndex((cell) => keyOf(cell) === keyOf(place));
    if (place && at >= 0 && place.index + by >= 0 && place.index + by < cells[at]!.count) return { ...place, index: place.index + by };
    const next = cells[place === null ? (by === 1 ? 0 : cells.length - 1) : at + by];
    return next ? ends(next) : null;
  }

  #window(cell: Cell, from: number): Promise<void> {
    const key = `${keyOf(cell)}\n${from}`;
    const known = this.#windows.get(key);
    this.#windows.delete(key);
    const window = known ?? { cell: keyOf(cell), from, read: this.#readWindow(cell, from) };
    this.#windows.set(key, window);
    for (const [oldest, { cell: of, from: at }] of this.#windows) {
      if (this.#windows.size <= KEPT) break;
      this.#windows.delete(oldest);
      this.#drop(of, at);
    }
    return window.read;
  }

  #drop(cell: string, from: number): void {
    const ids = this.#ids.get(cell);
    if (!ids) return;
    const kept = this.#kept();
    for (const id of ids.slice(from, from + PAGE)) if (id !== undefined && !kept.has(id)) this.#rows.delete(id);
    this.#ids.set(cell, ids.map((id, n) => (n >= from && n < from + PAGE ? undefined : id)));
  }

  async #readWindow(cell: Cell, from: number): Promise<void> {
    const [era, filter] = [this.era, this.filter];
    const query = queryOf({ ...filter, day: cell.day ?? 'none', camera: cell.camera }, { offset: from, limit: PAGE });
    try {
      const rows = await this.#film.api.get<FootageRow[]>(`/footage/clips${query}`);
      if (filter !== this.filter) return;
      for (const row of rows) this.#rows.set(row.clip.id, row);
      const ids = [...(this.#ids.get(keyOf(cell)) ?? [])];
      for (let n = 0; n < PAGE; n++) ids[from + n] = rows[n]?.clip.id;
      this.#ids.set(keyOf(cell), ids);
    } catch (error) {
      if (era !== this.era) return;
      this.#windows.delete(`${keyOf(cell)}\n${from}`);
      this.failure = wordsOf(error);
    }
  }

  async #readRows(ids: readonly string[]): Promise<void> {
    for (const row of await this.#film.api.post<FootageRow[]>('/footage/rows', { ids })) this.#rows.set(row.clip.id, row);
  }

  async #refresh(): Promise<void> {
    const filter = this.filter;
    this.#stale = false;
    try {
      const table = await this.#film.api.get<FootageTable>(`/footage/table${queryOf(filter)}`);
      if (filter !== this.filter) return;
      this.table = table;
      this.failure = '';
      this.#windows.clear();
      this.era += 1;
    } catch (error) {
      if (filter === this.filter) this.failure = wordsOf(error);
    }
  }

  #hear({ rows }: FilmEvent): void {
    for (const clip of rows.clips ?? []) {
      const row = this.#rows.get(clip.id);
      if (row && !clip.removedAt) this.#rows.set(clip.id, { ...row, clip });
      if (!row || !isEmpty(this.filter) || clip.removedAt || standingOf(row.clip) !== standingOf(clip)) this.#stale = true;
    }
    for (const { clipId } of [...(rows.selects ?? []), ...(rows.notes ?? [])]) if (clipId !== null && this.#rows.has(clipId)) this.#reread.add(clipId);
    if (rows.families) {
      // Who left a family is not named by it any more.
      const joined = new Set(rows.families.flatMap(({ members }) => members.map(({ clipId }) => clipId)));
      for (const [id, { family }] of this.#rows) if (family || joined.has(id)) this.#reread.add(id);
    }
    if ((rows.selects?.length || rows.notes?.length) && !isEmpty(this.filter)) this.#stale = true;
    this.#soon();
  }

  #hearSeen(clipId: string, crew: [number, number][]): void {
    const row = this.#rows.get(clipId);
    if (row) this.#rows.set(clipId, { ...row, seen: { ...row.seen, crew } });
    if (this.filter.seen !== undefined) this.#stale = true;
    this.#soon();
  }

  #soon(): void {
    if (this.#timer !== null || (!this.#stale && this.#reread.size === 0)) return;
    this.#timer = window.setTimeout(() => {
      this.#timer = null;
      if (this.#stale) void this.#refresh();
      const ids = [...this.#reread].slice(0, 200);
      this.#reread.clear();
      if (ids.length) this.#readRows(ids).catch((error: unknown) => (this.failure = wordsOf(error)));
    }, REFRESH_MS);
  }
}

/** What decides where a clip stands, and in which count. */
const standingOf = ({ shootDay, camera, capturedAt, startFrame, name, state, frames }: Clip): string => JSON.stringify([shootDay, camera, capturedAt, startFrame, name, state, frames]);
