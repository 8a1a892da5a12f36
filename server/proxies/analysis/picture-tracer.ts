import { UNKNOWN, type PictureTraces } from '#core/traces.ts';
import { differenceOf, isRepeated } from './change.ts';
import { Cuts } from './cuts.ts';
import { exposureOf } from './exposure.ts';
import { Flashes } from './flash.ts';
import { Motion } from './motion.ts';
import { spreadOverRepeats, unsteadiness } from './shake.ts';

/** Unit of the trace of shake: so many in the longer side of the picture. */
const SHAKE_UNITS = 10_000;
/** Where the light changes by so many grey levels from one frame to the next, movement cannot be told from it. */
const LIGHT_CHANGES = 6;

/** Pixels from one frame to the next from which on a cell may brighten by what is carried into it. */
const CARRIED = 0.75;

interface Step {
  frames: number;
  blown: number;
  brightest: number;
  black: number;
  repeated: number;
}

/** Measures every frame of a small grey picture while they are being read; focus is measured apart, in a larger one. */
export class PictureTracer {
  readonly #framesPerStep: number;
  readonly #fps: number;
  readonly #side: number;
  readonly #before: Uint8Array;
  readonly #motion: Motion;
  readonly #flashes: Flashes;
  readonly #cuts = new Cuts();
  readonly #steps: Step[] = [];
  readonly #x: number[] = [];
  readonly #y: number[] = [];
  readonly #repeated: boolean[] = [];
  #mean = 0;

  constructor({ width, height, fps, framesPerStep }: { width: number; height: number; fps: number; framesPerStep: number }) {
    this.#framesPerStep = framesPerStep;
    this.#fps = fps;
    this.#side = Math.max(width, height);
    this.#before = new Uint8Array(width * height);
    this.#motion = new Motion(width, height);
    this.#flashes = new Flashes(width, height, fps);
  }

  take(picture: Uint8Array): void {
    const frame = this.#repeated.length;
    if (frame === 0) this.#before.set(picture);
    const difference = differenceOf(picture, this.#before);
    const repeated = frame > 0 && isRepeated(difference);
    const { mean, blown, brightest, black } = exposureOf(picture);
    const found = this.#motion.take(picture);
    const move = Math.abs(mean - this.#mean) < LIGHT_CHANGES ? found : null;
    this.#mean = mean;
    this.#x.push(move?.x ?? Number.NaN);
    this.#y.push(move?.y ?? Number.NaN);
    this.#repeated.push(repeated);
    this.#cuts.take(picture, difference.mean, this.#before);
    this.#flashes.take(picture, move !== null && Math.hypot(move.x, move.y) >= CARRIED);
    this.#before.set(picture);

    if (frame % this.#framesPerStep === 0) this.#steps.push({ frames: 0, blown: 0, brightest: 0, black: 1, repeated: 0 });
    const step = this.#steps.at(-1)!;
    step.frames++;
    step.blown += blown;
    step.brightest = Math.max(step.brightest, brightest);
    step.black = Math.min(step.black, black);
    if (repeated) step.repeated++;
  }

  /** @param edges of each step, in tenths of a pixel, null where unknown. */
  result(edges: readonly (number | null)[]): { frames: number; picture: PictureTraces; cuts: number[] } {
    const cuts = new Set(this.#cuts.found);
    const moves = [this.#x, this.#y].map((axis) => {
      const along = Float32Array.from(axis, (by, frame) => (cuts.has(frame) ? Number.NaN : by));
      spreadOverRepeats(along, this.#repeated);
      return unsteadiness(along, this.#fps);
    });
    const flashes = this.#flashes.result();
    const each = <T>(of: (step: Step, from: number) => T): T[] => this.#steps.map((step, n) => of(step, n * this.#framesPerStep));
    const percent = (share: number): number => Math.round(100 * share);
    return {
      frames: this.#repeated.length,
      picture: {
        edge: this.#steps.map((_, n) => edges[n] ?? UNKNOWN),
        shake: each(({ frames }, from) => Math.round((SHAKE_UNITS * Math.sqrt(meanOf(moves[0]!, from, frames) + meanOf(moves[1]!, from, frames))) / this.#side)),
        blown: each(({ blown, frames }) => percent(blown / frames)),
        brightest: each(({ brightest }) => percent(brightest / 255)),
        black: each(({ black }) => percent(black)),
        repeated: each(({ repeated, frames }) => percent(repeated / frames)),
        flash: each(({ frames }, from) => Math.max(...flashes.slice(from, from + frames))),
      },
      cuts: this.#cuts.found,
    };
  }
}

function meanOf(values: Float64Array, from: number, count: number): number {
  let sum = 0;
  for (let at = from; at < from + count; at++) sum += values[at]!;
  return sum / count;
}
