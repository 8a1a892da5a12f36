import type { FrameRange } from '#core/range.ts';

/** Anything with a trim of its own: a select, an offer. */
interface Trimmed extends FrameRange {
  readonly id: string;
}

/*
 * Moves in and out of a row by many small strokes. Each stroke counts from what the stroke before asked for, shown at
 * once; requests go one after the other, always with the newest trim, so a held key never outruns the server. What the
 * server refuses is taken back. A row is shown as it came from the server again once it has arrived after the last answer.
 */
export class Trimming<Row extends Trimmed> {
  #asked: { row: Row; range: FrameRange; settled: boolean } | null = $state.raw(null);
  #sending = false;
  readonly #rowOf: (id: string) => Row | undefined;
  readonly #send: (id: string, range: FrameRange) => Promise<unknown>;
  readonly #done: (before: Row) => void;
  readonly #refused: (error: unknown) => void;

  /** @param done hears, after a series of strokes, how the row was before it. */
  constructor({ rowOf, send, done, refused }: { rowOf: (id: string) => Row | undefined; send: (id: string, range: FrameRange) => Promise<unknown>; done: (before: Row) => void; refused: (error: unknown) => void }) {
    this.#rowOf = rowOf;
    this.#send = send;
    this.#done = done;
    this.#refused = refused;
  }

  /** The row with the trim that was asked for last. */
  shown(row: Row): Row {
    const asked = this.#asked;
    if (asked?.row.id !== row.id || (asked.settled && row !== asked.row)) return row;
    return { ...row, in: asked.range.in, outExclusive: asked.range.outExclusive };
  }

  /** Asks for a trim; the caller has seen to it that it lies in the clip and is not empty. */
  async trim(row: Row, { in: first, outExclusive }: FrameRange): Promise<void> {
    this.#asked = { row, range: { in: first, outExclusive }, settled: false };
    if (this.#sending) return;
    this.#sending = true;
    const before = this.#rowOf(row.id) ?? row;
    try {
      for (let asked = this.#asked; !asked.settled; asked = this.#asked) {
        const standing = this.#rowOf(asked.row.id) ?? asked.row;
        await this.#send(asked.row.id, asked.range);
        if (this.#asked === asked) this.#asked = { row: standing, range: asked.range, settled: true };
      }
      this.#done(before);
    } catch (error) {
      this.#asked = null;
      this.#refused(error);
    } finally {
      this.#sending = false;
    }
  }
}

/** A trim with in or out moved by frames, held inside the clip and at least one frame long. */
export function nudged({ in: first, outExclusive }: FrameRange, { in: byIn = 0, out: byOut = 0 }: { in?: number; out?: number }, frames: number): FrameRange {
  const start = Math.min(Math.max(0, first + byIn), outExclusive - 1);
  return { in: start, outExclusive: Math.min(Math.max(start + 1, outExclusive + byOut), frames) };
}
