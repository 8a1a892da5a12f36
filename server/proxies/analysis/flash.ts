/*
 * Flashes, as far as luminance goes: the general flash of WCAG 2.2 (https://www.w3.org/TR/WCAG22/#dfn-general-flash-and-red-flash-thresholds),
 * which ITU-R BT.1702 has as well, in candela. A flash is a pair of opposing changes of relative luminance by a tenth of
 * the maximum or more, the darker below 0.80, in a quarter of any ten degrees of the picture; those are taken as a third of
 * its width by a third of its height (341 x 256 of 1024 x 768 in the definition). Saturated red, spatial patterns and the
 * brightness of the screen are not looked at, and a certified test looks at all of them.
 */
const CHANGE = 0.1;
const DARKER_BELOW = 0.8;
const QUARTER = 0.25;
/** Cells along the longer side, each square: small enough that an edge which a shaken camera moves lights up few of them. */
const CELLS = 32;
/** Changes this near in time belong together: a picture may take a few frames to light up. */
const TOGETHER_SECONDS = 0.05;

/** Relative luminance of a grey level, by the transfer function of sRGB that WCAG 2.2 names. */
const LUMINANCE = Float32Array.from({ length: 256 }, (_, level) => {
  const v = level / 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
});

interface Field {
  /** Cells of the field. */
  readonly cells: readonly number[];
  /** Direction of its last change, 0 before the first. */
  direction: number;
  /** Frames of its changes within the last second. */
  readonly changes: number[];
}

export class Flashes {
  readonly #fps: number;
  readonly #cellOf: Uint16Array;
  readonly #sizes: Float32Array;
  #light: Float32Array;
  #before: Float32Array;
  readonly #across: number;
  /** The last extreme of each cell, and where it went from there. */
  readonly #extreme: Float32Array;
  readonly #heading: Int8Array;
  /** The frame at which each cell last changed, upward and downward. */
  readonly #rose: Float64Array;
  readonly #fell: Float64Array;
  readonly #fields: Field[];
  /** For each frame, the most changes of a field in a second that holds it. */
  readonly #most: number[] = [];

  constructor(width: number, height: number, fps: number) {
    this.#fps = fps;
    const side = Math.max(width, height) / CELLS;
    const across = Math.max(3, Math.round(width / side));
    const down = Math.max(3, Math.round(height / side));
    this.#cellOf = Uint16Array.from({ length: width * height }, (_, at) => Math.floor((Math.floor(at / width) * down) / height) * across + Math.floor(((at % width) * across) / width));
    const cells = across * down;
    this.#sizes = new Float32Array(cells);
    for (const cell of this.#cellOf) this.#sizes[cell]!++;
    this.#light = new Float32Array(cells);
    this.#before = new Float32Array(cells);
    this.#across = across;
    this.#extreme = new Float32Array(cells);
    this.#heading = new Int8Array(cells);
    this.#rose = new Float64Array(cells).fill(-Infinity);
    this.#fell = new Float64Array(cells).fill(-Infinity);
    this.#fields = fieldsOf(across, down);
  }

  /**
   * To be given every frame.
   * @param carried whether the whole picture moved, with the light as it was: what a cell then takes over from its
   *   neighbours is no flash.
   */
  take(picture: Uint8Array, carried: boolean): void {
    const frame = this.#most.push(0) - 1;
    [this.#light, this.#before] = [this.#before, this.#light];
    this.#light.fill(0);
    for (let at = 0; at < picture.length; at++) this.#light[this.#cellOf[at]!]! += LUMINANCE[picture[at]!]!;
    let changed = false;
    for (let cell = 0; cell < this.#light.length; cell++) {
      const light = (this.#light[cell]! /= this.#sizes[cell]!);
      if (carried && this.#wasBeside(cell, light)) this.#extreme[cell] = light;
      else if (this.#follow(cell, light, frame)) changed = true;
    }
    if (changed) for (const field of this.#fields) this.#judge(field, frame);
  }

  /** The most opposing changes of a part of the picture in a second that holds each frame. */
  result(): readonly number[] {
    return this.#most;
  }

  /** Whether the cells about this one were as light and as dark as it is now. */
  #wasBeside(cell: number, light: number): boolean {
    const across = this.#across;
    let lightest = 0;
    let darkest = 1;
    for (let row = -across; row <= across; row += across)
      for (let at = cell + row - 1; at <= cell + row + 1; at++) {
        const there = this.#before[at];
        if (there === undefined) continue;
        if (there > lightest) lightest = there;
        if (there < darkest) darkest = there;
      }
    return darkest <= light && light <= lightest;
  }

  /** @returns whether the cell has changed with this frame. */
  #follow(cell: number, light: number, frame: number): boolean {
    if (frame === 0) {
      this.#extreme[cell] = light;
      return false;
    }
    const heading = this.#heading[cell]!;
    const by = light - this.#extreme[cell]!;
    if (by * heading > 0) this.#extreme[cell] = light;
    else if (Math.abs(by) >= CHANGE && Math.min(light, this.#extreme[cell]!) < DARKER_BELOW) {
      this.#heading[cell] = Math.sign(by);
      this.#extreme[cell] = light;
      (by > 0 ? this.#rose : this.#fell)[cell] = frame;
      return true;
    }
    return false;
  }

  #judge(field: Field, frame: number): void {
    const since = frame - Math.max(1, TOGETHER_SECONDS * this.#fps);
    for (const direction of [1, -1]) {
      if (field.direction === direction) continue;
      const times = direction > 0 ? this.#rose : this.#fell;
      const others = direction > 0 ? this.#fell : this.#rose;
      let together = 0;
      let fresh = false;
      for (const cell of field.cells) {
        if (times[cell]! > since) together++;
        // What is only carried about by a shaken camera brightens one cell and darkens another.
        else if (others[cell]! > since) together--;
        if (times[cell] === frame) fresh = true;
      }
      if (!fresh || together < QUARTER * field.cells.length) continue;
      field.direction = direction;
      field.changes.push(frame);
      while (frame - field.changes[0]! >= this.#fps - 1e-6) field.changes.shift();
      const first = field.changes[0]!;
      for (let at = first; at <= frame; at++) this.#most[at] = Math.max(this.#most[at]!, field.changes.length);
      return;
    }
  }
}

/** Every place of a third by a third of the picture. */
function fieldsOf(across: number, down: number): Field[] {
  const width = Math.max(1, Math.round(across / 3));
  const height = Math.max(1, Math.round(down / 3));
  const fields: Field[] = [];
  for (let top = 0; top + height <= down; top++)
    for (let left = 0; left + width <= across; left++) {
      const cells = Array.from({ length: width * height }, (_, n) => (top + Math.floor(n / width)) * across + left + (n % width));
      fields.push({ cells, direction: 0, changes: [] });
    }
  return fields;
}
