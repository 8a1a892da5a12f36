/*
 * A whole number of frames divided over a tree, exactly.
 *
 * What is minimised, the first first (a later one only decides where the earlier ones leave a choice):
 *   0. how many leaves have no frame at all;
 *   1. the departures from what is asked: the sum of d² / a over all asks, where d is by how many frames a length lies
 *      outside its ask, and a the end of the ask it lies beyond. Squares over lengths, so that where not all can hold,
 *      all give in proportion to their length;
 *   2. the unevenness of the leaves: the sum of x²;
 *   3. the unevenness of the parts: the sum of x² / n, n being the leaves inside, so that a frame that is left over
 *      goes now into this part, now into that.
 *
 * Why one frame after the other, always to where it costs least, ends at the optimum: each term is a convex function of
 * one length, so its cost of one more frame never falls. The least cost f of a part with x frames is its own term plus
 * the best division of x over what is inside; by induction those inner functions are convex, and the best division of
 * convex costs takes their single steps in rising order. So the steps of f are the part's own steps plus the merged
 * steps of what is inside, both rising: f is convex again, and the next step of the whole tree is found by going down
 * to the cheapest child at each level. Steps are compared term by term in the order above, and sums of convex
 * functions stay convex under that order too.
 * (The sum of separable convex costs over a laminar family: T. Ibaraki, N. Katoh, Resource Allocation Problems, 1988,
 * proves greedy for it; cited from memory, the proof above is complete without it.)
 *
 * The children of a part are paired by a knock-out (`joint`), so a frame costs one walk from a leaf up to the top: the
 * time goes with frames × the logarithm of the number of lines.
 */

/** A length asked for: anything from `min` to `max` is as asked. Whole frames, `min` from 1, `max` may be Infinity. */
export interface Ask {
  readonly min: number;
  readonly max: number;
}

/** A branch of the tree: what is asked for its length, and what it is divided into; a leaf has nothing inside. */
export interface Branch {
  readonly asks: readonly Ask[];
  readonly inside: readonly Branch[];
}

/** By how many frames a length lies outside what is asked: negative below, 0 within, positive beyond. */
export const departureFrom = (length: number, { min, max }: Ask): number => (length < min ? length - min : length > max ? length - max : 0);

/** Term 1 of the cost for one ask, in frames. */
export function departureCost(length: number, ask: Ask): number {
  const off = departureFrom(length, ask);
  return off === 0 ? 0 : (off * off) / (off < 0 ? ask.min : ask.max);
}

/** What one frame more changes in term 1: from `length` to `length` + 1. */
function departureStep(length: number, { min, max }: Ask): number {
  if (length < min) return (1 - 2 * (min - length)) / min;
  return length >= max ? (2 * (length - max) + 1) / max : 0;
}

/**
 * Divides `total` frames over what is inside `whole`, at the least cost. What `whole` itself asks is not looked at: its
 * length is given.
 * @returns the length of every branch, `whole` first, each before what is inside it.
 */
export function divide(whole: Branch, total: number): number[] {
  const { branches, up, left, right, leaves } = knockOut(whole);
  const size = branches.length;
  // Term 0 comes first, so every leaf gets its first frame before any gets a second; where there are too few for that, none gets a second.
  const few = total < leaves[0]!;
  const lengths = few || whole.inside.length === 0 ? new Int32Array(size) : leaves.slice();
  /** The leaf that a node's next frame goes to, and what that costs: terms 1 to 3, each in its own list. */
  const next = new Int32Array(size);
  const [asked, even, evenPart] = [new Float64Array(size), new Float64Array(size), new Float64Array(size)];
  const asks = branches.map((branch) => (branch && branch.asks.length > 0 ? branch.asks : null));
  const isPart = Uint8Array.from(branches, (branch) => (branch ? 1 : 0));

  function better(a: number, b: number): number {
    return (asked[b]! - asked[a]! || even[b]! - even[a]! || evenPart[b]! - evenPart[a]!) < 0 ? b : a;
  }

  /** Works out the next frame of a node from what is right below it. */
  function price(at: number): void {
    const length = lengths[at]!;
    const its = asks[at]!;
    let own = 0;
    if (its) for (let i = 0; i < its.length; i++) own += departureStep(length, its[i]!);
    if (left[at] === NONE) {
      next[at] = at;
      asked[at] = few && length === 1 ? Infinity : own;
      even[at] = 2 * length + 1;
      return;
    }
    const best = right[at] === NONE ? left[at]! : better(left[at]!, right[at]!);
    next[at] = next[best]!;
    asked[at] = asked[best]! + own;
    even[at] = even[best]!;
    evenPart[at] = evenPart[best]! + (isPart[at] ? (2 * length + 1) / leaves[at]! : 0);
  }

  // Numbered from the top down, so that going backwards what is below is ready.
  for (let at = size - 1; at >= 0; at--) price(at);
  for (let n = lengths[0]!; n < total && whole.inside.length > 0; n++) {
    for (let at = next[0]!; at !== NONE; at = up[at]!) {
      lengths[at]! += 1;
      price(at);
    }
  }
  lengths[0] = total;
  return [...lengths].filter((_, at) => branches[at] !== null);
}

const NONE = -1;

/**
 * The tree by number, from the top down. Below a part is one node, below a joint, which is no branch (null), two, of
 * which the better goes on, below a leaf none.
 */
function knockOut(whole: Branch) {
  const branches: (Branch | null)[] = [];
  const [up, left, right, leaves] = [[] as number[], [] as number[], [] as number[], [] as number[]];

  /** Numbers some branches of one part, paired. */
  function put(list: readonly Branch[], from: number, to: number, above: number): number {
    const branch = to - from === 1 ? list[from]! : null;
    const at = branches.push(branch) - 1;
    up[at] = above;
    [left[at], right[at]] = [NONE, NONE];
    if (!branch) {
      const middle = (from + to) >> 1;
      left[at] = put(list, from, middle, at);
      right[at] = put(list, middle, to, at);
    } else if (branch.inside.length > 0) left[at] = put(branch.inside, 0, branch.inside.length, at);
    leaves[at] = left[at] === NONE ? 1 : leaves[left[at]]! + (right[at] === NONE ? 0 : leaves[right[at]]!);
    return at;
  }

  put([whole], 0, 1, NONE);
  return { branches, up: Int32Array.from(up), left: Int32Array.from(left), right: Int32Array.from(right), leaves: Int32Array.from(leaves) };
}
