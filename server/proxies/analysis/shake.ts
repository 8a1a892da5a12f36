/** What a steady hand or a pan does is slower than this window; what a tremor or a step does is not. */
const WINDOW_SECONDS = 0.5;

/**
 * How far a picture is thrown about the steady path it follows.
 * @param moves pixels from frame to frame along one axis, NaN where it is not known: at a cut, or where nothing can be told.
 * @param fps frames a second.
 * @returns for each frame the square of its distance from the path, averaged over half a second, in square pixels.
 */
export function unsteadiness(moves: Float32Array, fps: number): Float64Array {
  const half = Math.max(1, Math.round((WINDOW_SECONDS * fps) / 2));
  const path = new Float64Array(moves.length);
  let at = 0;
  for (let n = 0; n < moves.length; n++) {
    if (!Number.isNaN(moves[n]!)) at += moves[n]!;
    path[n] = at;
  }
  const steady = averaged(path, half);
  for (let n = 0; n < path.length; n++) path[n] = (path[n]! - steady[n]!) ** 2;
  return averaged(path, half);
}

/** The mean of the values from `half` before to `half` after each; at the ends, of as many on both sides as there are. */
function averaged(values: Float64Array, half: number): Float64Array {
  const sums = new Float64Array(values.length + 1);
  for (let n = 0; n < values.length; n++) sums[n + 1] = sums[n]! + values[n]!;
  return values.map((_, n) => {
    const reach = Math.min(half, n, values.length - 1 - n);
    return (sums[n + reach + 1]! - sums[n - reach]!) / (2 * reach + 1);
  });
}

/**
 * Spreads a move over the frames that repeated the picture before it, since a camera that leaves frames out shakes no more
 * than one that does not.
 */
export function spreadOverRepeats(moves: Float32Array, repeated: readonly boolean[]): void {
  let waiting = 0;
  for (let n = 0; n < moves.length; n++) {
    if (repeated[n]) {
      waiting++;
      continue;
    }
    const share = moves[n]! / (waiting + 1);
    if (!Number.isNaN(share)) for (let back = 0; back <= waiting; back++) moves[n - back] = share;
    waiting = 0;
  }
}
