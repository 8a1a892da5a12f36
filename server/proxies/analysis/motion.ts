/*
 * How far the whole picture moved since the frame before, found in its projections: the sums of its columns, in three
 * bands one above the other, and of its rows, in three side by side. The middle one of three answers is taken, so what
 * crosses one band does not count as a movement of the camera.
 */
const BANDS = 3;
/** The farthest move looked for, as a part of the side. */
const REACH = 0.1;
/** Mean square of the slope of a projection, in grey levels a pixel, below which there is nothing to hold on to. */
const LEAST_TEXTURE = 0.05;
/** A match leaves less than this of the texture over; otherwise the picture is another one. */
const MOST_LEFT = 0.6;

export interface Move {
  /** Pixels to the right and downward. */
  x: number;
  y: number;
}

export class Motion {
  readonly #width: number;
  readonly #height: number;
  readonly #columns: Bands;
  readonly #rows: Bands;

  constructor(width: number, height: number) {
    this.#width = width;
    this.#height = height;
    this.#columns = new Bands(width, height / BANDS);
    this.#rows = new Bands(height, width / BANDS);
  }

  /** To be given every frame. @returns null where nothing can be told, as for the first one. */
  take(picture: Uint8Array): Move | null {
    this.#project(picture);
    const x = this.#columns.move();
    const y = this.#rows.move();
    return x === null && y === null ? null : { x: x ?? 0, y: y ?? 0 };
  }

  #project(picture: Uint8Array): void {
    const width = this.#width;
    const height = this.#height;
    const columns = this.#columns.turn();
    const rows = this.#rows.turn();
    const edges = [0, Math.round(width / BANDS), Math.round((2 * width) / BANDS), width];
    for (let y = 0, at = 0; y < height; y++) {
      const band = Math.min(BANDS - 1, Math.floor((BANDS * y) / height)) * width;
      for (let part = 0; part < BANDS; part++) {
        let sum = 0;
        for (let x = edges[part]!; x < edges[part + 1]!; x++) {
          const grey = picture[at++]!;
          sum += grey;
          columns[band + x]! += grey;
        }
        rows[part * height + y] = sum;
      }
    }
  }
}

/** The projections of one direction, of this frame and the one before. */
class Bands {
  readonly #length: number;
  readonly #across: number;
  #now: Float32Array;
  #before: Float32Array;
  readonly #slopes: [Float32Array, Float32Array];
  #count = 0;

  /** @param across pixels that each sum is of. */
  constructor(length: number, across: number) {
    this.#length = length;
    this.#across = across;
    this.#now = new Float32Array(length * BANDS);
    this.#before = new Float32Array(length * BANDS);
    this.#slopes = [new Float32Array(length), new Float32Array(length)];
  }

  /** Makes this frame the one before. @returns where the sums of the next go, all 0. */
  turn(): Float32Array {
    [this.#now, this.#before] = [this.#before, this.#now];
    this.#now.fill(0);
    this.#count++;
    return this.#now;
  }

  move(): number | null {
    if (this.#count < 2) return null;
    const found: number[] = [];
    for (let band = 0; band < BANDS; band++) {
      const from = band * this.#length;
      const now = this.#slope(this.#slopes[0], this.#now, from);
      const before = this.#slope(this.#slopes[1], this.#before, from);
      if (Math.min(now, before) < LEAST_TEXTURE) continue;
      const by = this.#match(Math.max(now, before));
      if (by !== null) found.push(by);
    }
    if (found.length === 0) return null;
    found.sort((a, b) => a - b);
    const middle = found.length >> 1;
    return found.length % 2 ? found[middle]! : (found[middle - 1]! + found[middle]!) / 2;
  }

  /** The slope of one band, which a change of exposure leaves alone. @returns its mean square. */
  #slope(into: Float32Array, sums: Float32Array, from: number): number {
    let squares = 0;
    for (let at = 1; at < this.#length - 1; at++) {
      const slope = (sums[from + at + 1]! - sums[from + at - 1]!) / (2 * this.#across);
      into[at] = slope;
      squares += slope * slope;
    }
    return squares / (this.#length - 2);
  }

  /** The shift at which both slopes are most alike, to a part of a pixel. */
  #match(texture: number): number | null {
    const reach = Math.floor(REACH * this.#length);
    let best = Infinity;
    let at = 0;
    for (let by = -reach; by <= reach; by++) {
      const left = this.#left(by);
      if (left < best) [best, at] = [left, by];
    }
    if (best > MOST_LEFT * texture || Math.abs(at) === reach) return null;
    const [one, other] = [this.#left(at - 1), this.#left(at + 1)];
    const bend = one - 2 * best + other;
    return bend > 0 ? at + (one - other) / (2 * bend) : at;
  }

  /** Mean square of what is left when the frame before is moved by so many pixels. */
  #left(by: number): number {
    const [now, before] = this.#slopes;
    const first = Math.max(1, 1 + by);
    const end = Math.min(this.#length - 1, this.#length - 1 + by);
    let sum = 0;
    for (let at = first; at < end; at++) {
      const apart = now[at]! - before[at - by]!;
      sum += apart * apart;
    }
    return sum / (end - first);
  }
}
