import type { FrameRange } from '#core/range.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { Shows, Stroke } from '../live/strokes.svelte.ts';
import { say } from '../ui/say.svelte.ts';

/** Anything with a trim of its own: a select, an offer. */
interface Trimmed extends FrameRange {
  readonly id: string;
}

/** Trims that follow one another this closely are one, and are taken back as one. */
const SERIES_MS = 1500;

/** Trims of selects or of offers: each counts from what the one before made, shows at once, and goes out as a stroke. */
export class Trimming {
  readonly #film: FilmState;
  readonly #table: 'selects' | 'offers';
  /** Said after the first of a series: "Select adjusted." */
  readonly #done: string;
  /** The row that is being trimmed, and when it was last. */
  #series: { id: string; at: number } | null = null;

  constructor(film: FilmState, table: 'selects' | 'offers', done: string) {
    this.#film = film;
    this.#table = table;
    this.#done = done;
  }

  /**
   * Trims a row as it is shown; the caller has seen to it that the range lies in the clip and is not empty.
   * @param words what is trimmed, should it be refused: "The select at 10:00:04:12"
   */
  trim(row: Trimmed, { in: first, outExclusive }: FrameRange, words: string): void {
    const { strokes } = this.#film;
    const stroke = (fields: FrameRange): Stroke => ({ method: 'PATCH', path: `/${this.#table}/${row.id}`, body: fields, words, shows: { table: this.#table, id: row.id, fields } as Shows });
    if (this.#series?.id === row.id && Date.now() - this.#series.at < SERIES_MS) strokes.goOn(stroke({ in: first, outExclusive }));
    else {
      const before = { in: row.in, outExclusive: row.outExclusive };
      strokes.do(stroke({ in: first, outExclusive }));
      say(this.#done, { undo: () => strokes.do(stroke(before)) });
    }
    this.#series = { id: row.id, at: Date.now() };
  }

  /** Something else was done: the next trim is one of its own. */
  end(): void {
    this.#series = null;
  }
}

/** A trim with in or out moved by frames, held inside the clip and at least one frame long. */
export function nudged({ in: first, outExclusive }: FrameRange, { in: byIn = 0, out: byOut = 0 }: { in?: number; out?: number }, frames: number): FrameRange {
  const start = Math.min(Math.max(0, first + byIn), outExclusive - 1);
  return { in: start, outExclusive: Math.min(Math.max(start + 1, outExclusive + byOut), frames) };
}
