/** Faster than this, frames that the screen leaves out were not watched. */
const WATCHABLE = 2;

/*
 * Which frames of a clip somebody watched, from the pictures that came on screen.
 * States: resting (what is on screen was only stopped at) and running (speed above or below 0).
 */
export class Watched {
  #frames = new Set<number>();
  #last: number | null = null;
  #pace = 0;

  /**
   * To be told every frame that came on screen.
   * @param speed how fast it runs, 0 while it does not: a frame one only stopped at was not watched.
   * @param pictures how many pictures the screen has shown since it was last told; a busy page is not told of every one.
   */
  saw(frame: number, speed: number, pictures: number): void {
    // The picture it stops on may come just after it has stopped.
    const pace = speed || this.#pace;
    const step = this.#last === null ? 0 : frame - this.#last;
    // At twice the speed a screen shows every other frame: what lies between two pictures was watched with them.
    const through = pace > 0 && pace <= WATCHABLE && step > 0 && step <= pictures * WATCHABLE;
    // From the frame before on: the one it began to run from was on screen as well.
    if (through) for (let one = this.#last!; one <= frame; one++) this.#frames.add(one);
    else if (speed !== 0) this.#frames.add(frame);
    this.#pace = speed;
    this.#last = frame;
  }

  /** What was watched since this was last asked, as half-open ranges in order. */
  take(): [number, number][] {
    const ranges = rangesOf(this.#frames);
    this.#frames = new Set();
    return ranges;
  }
}

/** Frames as half-open ranges, in order. */
function rangesOf(frames: Iterable<number>): [number, number][] {
  const ranges: [number, number][] = [];
  for (const frame of [...frames].sort((a, b) => a - b)) {
    const last = ranges.at(-1);
    if (last && frame <= last[1]) last[1] = Math.max(last[1], frame + 1);
    else ranges.push([frame, frame + 1]);
  }
  return ranges;
}
