import { differenceOf } from './change.ts';

/** A new picture differs from the last by so many grey levels at least, */
const LEAST = 8;
/** by so many times what the pictures about it differ from each other, */
const STANDS_OUT = 2.5;
/** and still does by so much of that a few frames later; a flash does not. */
const STAYS = 0.6;
/** Two pictures are of one thing, however the light has changed, when they go together by as much (Pearson's r). */
const SAME = 0.7;
/** Frames looked at on both sides. */
const BESIDE = 4;

/*
 * Finds the frames that begin a new picture.
 * States: watching; judging (a frame stood out from those before, and the ones after it are awaited).
 */
export class Cuts {
  /** Frames that begin a new picture, in order. */
  readonly found: number[] = [];
  /** Differences of the last frames, newest first. */
  readonly #last: number[] = [];
  #frame = 0;
  #judging: { frame: number; difference: number; before: Uint8Array; after: number } | null = null;

  /**
   * To be told every frame.
   * @param difference mean difference to the frame before; 0 for the first frame.
   * @param before the frame before.
   */
  take(picture: Uint8Array, difference: number, before: Uint8Array): void {
    const judging = this.#judging;
    if (judging) {
      judging.after = Math.max(judging.after, difference);
      if (difference > judging.difference) this.#judging = null;
      else if (this.#frame === judging.frame + BESIDE) {
        const stays = differenceOf(picture, judging.before).mean >= STAYS * judging.difference;
        if (stays && judging.difference >= STANDS_OUT * judging.after && likeness(picture, judging.before) < SAME) this.found.push(judging.frame);
        this.#judging = null;
      }
    }
    if (!this.#judging && this.#frame > 0 && difference >= LEAST && difference >= STANDS_OUT * Math.max(0, ...this.#last))
      this.#judging = { frame: this.#frame, difference, before: before.slice(), after: 0 };
    this.#last.unshift(this.#frame > 0 ? difference : 0);
    if (this.#last.length > BESIDE) this.#last.pop();
    this.#frame++;
  }
}

/** Pearson's correlation of two pictures; 0 where one of them is all of one grey, 1 where both are. */
function likeness(a: Uint8Array, b: Uint8Array): number {
  let sumA = 0;
  let sumB = 0;
  let aa = 0;
  let bb = 0;
  let ab = 0;
  for (let at = 0; at < a.length; at++) {
    const one = a[at]!;
    const other = b[at]!;
    sumA += one;
    sumB += other;
    aa += one * one;
    bb += other * other;
    ab += one * other;
  }
  const spreadA = a.length * aa - sumA * sumA;
  const spreadB = a.length * bb - sumB * sumB;
  if (spreadA === 0 || spreadB === 0) return spreadA === spreadB ? 1 : 0;
  return (a.length * ab - sumA * sumB) / Math.sqrt(spreadA * spreadB);
}
