import type { Lengths } from './decode.ts';

/**
 * What a change of beat length costs, by the difference of their logarithms: 1 % costs a hundredth of this. At half of it paths
 * slipped by half a beat within pieces of steady tempo; ramps of 1 % a beat are still followed.
 */
const CHANGE_COST = 400;
const NONE = 0xffff;
/** What has not been settled is kept in pieces of so many frames. */
const PIECE = 2048;

/**
 * The dynamic programme of one range of lengths: `at` once for each frame in order, then `best`. All paths that may yet be the
 * best have, some way back, one beginning in common: that much is settled and what led to it forgotten, so that half an hour
 * of music takes no more memory than a minute.
 */
export class Search {
  private readonly shortest: number;
  private readonly lengths: number;
  private readonly patterns: number;
  /** A state is length × patterns + pattern. */
  private readonly width: number;
  private readonly change: Float64Array;
  private readonly end: number;
  private readonly mayBegin: number;
  /** The best score with which a beat in a state can begin, for as many frames back as the longest beat. */
  private readonly ready: Float64Array;
  private readonly ring: number;
  /** For each frame and state that of the beat before it, by pieces of frames. */
  private readonly before = new Map<number, Uint16Array>();
  /** The beats that all paths have in common, but for the last, whose frame is the root of what is open. */
  private settled: number[] = [];
  private root = -1;
  /** The best score with which a beat in a state ends at the frame. */
  private readonly ended: Float64Array;
  /** What it costs to come to a length from the one before it, or the other way. */
  private readonly costs: Float64Array;
  private last = { score: -Infinity, frame: 0, state: NONE };

  /** @param how.end the last frame, @param how.mayBegin the first beat begins before this frame, @param how.change log probabilities [before × patterns + after]. */
  constructor({ shortest, longest }: Lengths, { end, mayBegin, change, patterns }: { end: number; mayBegin: number; change: Float64Array; patterns: number }) {
    this.shortest = shortest;
    this.lengths = longest - shortest + 1;
    this.patterns = patterns;
    this.width = this.lengths * patterns;
    this.change = change;
    this.end = end;
    this.mayBegin = mayBegin;
    this.ring = longest + 1;
    this.ready = new Float64Array(this.ring * this.width).fill(-Infinity);
    this.ended = new Float64Array(this.width);
    this.costs = Float64Array.from({ length: this.lengths }, (_, i) => CHANGE_COST * Math.log((shortest + i) / (shortest + i - 1)));
  }

  /**
   * Goes one frame on.
   * @param beats log likelihood of a beat that ends here: [length − from][pattern].
   */
  at(frame: number, beats: Float64Array, from: number): void {
    this.endBeats(frame, beats, from);
    if (frame % PIECE === 0) {
      if (frame < this.end - this.mayBegin) this.settle(frame - 1);
      this.before.set(frame / PIECE, new Uint16Array(PIECE * this.width).fill(NONE));
    }
    this.beginBeats(frame);
  }

  /** The state before a beat that begins in a state at a frame. */
  private stateBefore(frame: number, state: number): number {
    return this.before.get(Math.floor(frame / PIECE))![(frame % PIECE) * this.width + state]!;
  }

  private lengthOf(state: number): number {
    return this.shortest + Math.floor(state / this.patterns);
  }

  /** Goes back along all paths at once, from the beats that may be under way at a frame, until there is one left. */
  private settle(frame: number): void {
    const open = new Map<number, Set<number>>();
    let count = 0;
    const add = (at: number, state: number): void => {
      const states = open.get(at) ?? new Set();
      open.set(at, states);
      if (!states.has(state)) count++;
      states.add(state);
    };
    for (let at = Math.max(0, frame - this.ring + 1); at <= frame; at++) {
      for (let state = 0; state < this.width; state++) if (this.ready[(at % this.ring) * this.width + state]! > -Infinity) add(at, state);
    }
    for (let at = frame; at > this.root && count > 1; at--) {
      for (const state of open.get(at) ?? []) {
        count--;
        const earlier = this.stateBefore(at, state);
        // A path that only just began has nothing in common with the others.
        if (earlier === NONE) return;
        add(at - this.lengthOf(earlier), earlier);
      }
      open.delete(at);
    }
    if (count !== 1) return;
    const [at, states] = [...open][0]!;
    const [state] = [...states];
    this.settled.push(...this.beginnings(at, state!));
    this.root = at;
    for (const piece of this.before.keys()) if ((piece + 1) * PIECE <= at) this.before.delete(piece);
  }

  /** From the root on, where there is one, the frames at which the beats up to one begin, that one not included. */
  private beginnings(frame: number, state: number): number[] {
    const beats: number[] = [];
    for (let at = frame, now = state; at !== this.root; ) {
      now = this.stateBefore(at, now);
      if (now === NONE) break;
      at -= this.lengthOf(now);
      beats.push(at);
    }
    return beats.reverse();
  }

  private endBeats(frame: number, beats: Float64Array, from: number): void {
    const { patterns, ended, ready, width, ring } = this;
    for (let i = 0; i < this.lengths; i++) {
      const start = frame - this.shortest - i;
      const state = i * patterns;
      if (start < 0) {
        ended.fill(-Infinity, state, state + patterns);
        continue;
      }
      const row = (start % ring) * width + state;
      const beat = (this.shortest - from) * patterns + state;
      for (let p = 0; p < patterns; p++) ended[state + p] = beats[beat + p]! + ready[row + p]!;
    }
    if (frame < this.end - this.mayBegin) return;
    for (let state = 0; state < width; state++) if (ended[state]! > this.last.score) this.last = { score: ended[state]!, frame, state };
  }

  private beginBeats(frame: number): void {
    const { patterns, ended, ready, change, lengths, costs } = this;
    const before = this.before.get(Math.floor(frame / PIECE))!;
    const row = (frame % this.ring) * this.width;
    const history = (frame % PIECE) * this.width;
    const fresh = frame < this.mayBegin ? 0 : -Infinity;
    for (let i = 0; i < lengths; i++) {
      for (let p = 0; p < patterns; p++) {
        let most = fresh;
        let by = NONE;
        for (let q = 0; q < patterns; q++) {
          const value = ended[i * patterns + q]! + change[q * patterns + p]!;
          if (value <= most) continue;
          most = value;
          by = i * patterns + q;
        }
        ready[row + i * patterns + p] = most;
        before[history + i * patterns + p] = by;
      }
    }
    // The costs of changes add up along the lengths, so two sweeps find the best length before for each length.
    for (let i = 1; i < lengths; i++) this.carry(row, before, history, i - 1, i, costs[i]!);
    for (let i = lengths - 2; i >= 0; i--) this.carry(row, before, history, i + 1, i, costs[i + 1]!);
  }

  private carry(row: number, before: Uint16Array, history: number, from: number, to: number, cost: number): void {
    const { patterns, ready } = this;
    for (let p = 0; p < patterns; p++) {
      const value = ready[row + from * patterns + p]! - cost;
      if (value <= ready[row + to * patterns + p]!) continue;
      ready[row + to * patterns + p] = value;
      before[history + to * patterns + p] = before[history + from * patterns + p]!;
    }
  }

  /** The frames at which the beats of the best path begin, and the one at which its last ends. */
  best(): number[] {
    const { frame, state } = this.last;
    if (state === NONE) return [];
    const begin = frame - this.lengthOf(state);
    return [...this.settled, ...this.beginnings(begin, state), begin, frame];
  }
}
