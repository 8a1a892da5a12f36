import { FLUX_BANDS } from './features.ts';
import { LEVELS } from './levels.ts';

/** Cells of a beat: both thirds and quarters of it fall on cells. The first is centred on the beat itself. */
export const CELLS = 12;

const WIDTH = FLUX_BANDS * LEVELS;

/** Rhythms of a beat, learned by tests/bench/train/music.ts. */
export interface Patterns {
  /** Log likelihood over background of a level: [pattern][cell][band × LEVELS + level]. */
  readonly weights: readonly (readonly (readonly number[])[])[];
  /** Log probability that a pattern follows another: [before][after]. */
  readonly change: readonly (readonly number[])[];
}

/** A piece under all patterns. */
export interface Likelihoods {
  readonly frames: number;
  readonly patterns: number;
  /** Log probability of a change of pattern: [before × patterns + after]. */
  readonly change: Float64Array;
  /**
   * Log likelihood over background of a beat, under each pattern.
   * @param start frame of the beat, @param edges from edgesOf its length.
   * @param into takes a number per pattern, from `at` on.
   */
  beat(start: number, edges: Int32Array, into: Float64Array, at: number): void;
}

/** So laid out that a beat of any length is scored by one addition per edge of a cell: for searching. */
export class Scores implements Likelihoods {
  readonly frames: number;
  readonly patterns: number;
  readonly change: Float64Array;
  /** Row frame × edge: per pattern what an edge between two cells at this frame adds; edge 0 opens the beat, edge CELLS closes it. */
  private readonly edges: Float64Array;

  /** @param levels of the piece, from levelsOf. */
  constructor(levels: Uint8Array, { weights, change }: Patterns) {
    this.frames = levels.length / FLUX_BANDS;
    this.patterns = weights.length;
    this.change = Float64Array.from(change.flat());
    this.edges = new Float64Array((this.frames + 1) * (CELLS + 1) * this.patterns);
    weights.forEach((cells, pattern) =>
      cells.forEach((table, cell) => {
        const flat = Float64Array.from(table);
        let sum = 0;
        for (let frame = 0; frame < this.frames; frame++) {
          for (let band = 0; band < FLUX_BANDS; band++) sum += flat[band * LEVELS + levels[frame * FLUX_BANDS + band]!]!;
          const row = (frame + 1) * (CELLS + 1);
          this.edges[(row + cell) * this.patterns + pattern]! -= sum;
          this.edges[(row + cell + 1) * this.patterns + pattern]! += sum;
        }
      }),
    );
  }

  beat(start: number, edges: Int32Array, into: Float64Array, at: number): void {
    const { patterns } = this;
    for (let p = 0; p < patterns; p++) into[at + p] = 0;
    for (let edge = 0; edge <= CELLS; edge++) {
      const frame = Math.min(this.frames, start + edges[edge]!);
      if (frame <= 0) continue;
      const row = (frame * (CELLS + 1) + edge) * patterns;
      for (let p = 0; p < patterns; p++) into[at + p]! += this.edges[row + p]!;
    }
  }
}

/** Adds up frame by frame and keeps nothing: for beats that are known. */
export class PlainScores implements Likelihoods {
  readonly frames: number;
  readonly patterns: number;
  readonly change: Float64Array;
  private readonly levels: Uint8Array;
  /** [cell][band × LEVELS + level][pattern]. */
  private readonly weights: Float64Array;

  /** @param levels of the piece, from levelsOf. */
  constructor(levels: Uint8Array, { weights, change }: Patterns) {
    this.frames = levels.length / FLUX_BANDS;
    this.patterns = weights.length;
    this.change = Float64Array.from(change.flat());
    this.levels = levels;
    this.weights = new Float64Array(CELLS * WIDTH * weights.length);
    weights.forEach((cells, pattern) => cells.forEach((table, cell) => table.forEach((value, i) => (this.weights[(cell * WIDTH + i) * weights.length + pattern] = value))));
  }

  beat(start: number, edges: Int32Array, into: Float64Array, at: number): void {
    const { patterns, levels, weights } = this;
    into.fill(0, at, at + patterns);
    for (let cell = 0; cell < CELLS; cell++) {
      const end = Math.min(this.frames, start + edges[cell + 1]!);
      for (let frame = Math.max(0, start + edges[cell]!); frame < end; frame++) {
        for (let band = 0; band < FLUX_BANDS; band++) {
          const row = (cell * WIDTH + band * LEVELS + levels[frame * FLUX_BANDS + band]!) * patterns;
          for (let p = 0; p < patterns; p++) into[at + p]! += weights[row + p]!;
        }
      }
    }
  }
}

/** Where the cells of a beat of so many frames begin and end, from the beat's own frame. */
export const edgesOf = (length: number): Int32Array => Int32Array.from({ length: CELLS + 1 }, (_, edge) => Math.round((length * (edge - 0.5)) / CELLS));
