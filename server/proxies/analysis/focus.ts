/*
 * How wide the sharpest edges of a picture are. An edge is a run of pixels along a row or a column that rises, or falls,
 * by enough; its width is the whole of that divided by its steepest step, which for a step blurred by a Gaussian is 2.5
 * times its sigma. The sharpest tenth is asked for because a shot is in focus when anything in it is. After the width of
 * edges in P. Marziliano and others, "A no-reference perceptual blur metric" (ICIP 2002).
 */

/** Grey levels that an edge rises by, and that a run may go back without ending: noise does not end an edge. */
const EDGE = 40;
const BACK = 3;
/** One row and one column of so many is looked along: edges are far longer than they are wide. */
const EVERY = 3;
/** Fewer edges than this many for each thousand pixels looked at tell nothing: mist, a clear sky, the dark. */
const LEAST_EDGES = 0.5;
const SHARPEST = 0.1;
/** Widths are counted in tenths of a pixel, up to here. */
const WIDEST = 400;

export class Focus {
  readonly #width: number;
  readonly #height: number;
  readonly #widths = new Uint32Array(WIDEST + 1);
  #edges = 0;

  constructor(width: number, height: number) {
    this.#width = width;
    this.#height = height;
  }

  /** Width of the sharpest tenth of the edges of a grey picture, in tenths of its pixels; null where there are too few. */
  edgeOf(picture: Uint8Array): number | null {
    const size = this.#width * this.#height;
    this.#widths.fill(0);
    this.#edges = 0;
    for (let row = 0; row < size; row += EVERY * this.#width) this.#along(picture, row, 1, row + this.#width);
    for (let column = 0; column < this.#width; column += EVERY) this.#along(picture, column, this.#width, size);
    if (this.#edges < (LEAST_EDGES * size) / EVERY / 1000) return null;
    let width = 0;
    for (let below = this.#widths[0]!; below < SHARPEST * this.#edges; below += this.#widths[width]!) width++;
    return width;
  }

  /** Counts the edges along a row or a column: the pixels from `start` on, `stride` apart, before `end`. */
  #along(picture: Uint8Array, start: number, stride: number, end: number): void {
    let last = picture[start]!;
    let from = last;
    let top = last;
    let steepest = 0;
    for (let at = start + stride; at < end; at += stride) {
      const level = picture[at]!;
      const step = level - last;
      last = level;
      // A run rises where its steepest step does; on flat ground there is none yet.
      if (steepest >= 0 ? level > top : level < top) {
        top = level;
        if (steepest >= 0 ? step > steepest : step < steepest) steepest = step;
        continue;
      }
      if (steepest >= 0 ? top - level <= BACK && steepest > 0 : level - top <= BACK) continue;
      if (steepest !== 0) this.#count(top - from, steepest);
      from = steepest === 0 ? from : top;
      top = level;
      steepest = step;
    }
    if (steepest !== 0) this.#count(top - from, steepest);
  }

  #count(rise: number, steepest: number): void {
    if (rise < EDGE && rise > -EDGE) return;
    this.#edges++;
    this.#widths[Math.min(WIDEST, Math.round((10 * rise) / steepest))]!++;
  }
}
