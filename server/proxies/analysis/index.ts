// What the run of ffmpeg that makes a proxy hands to the analysis, and what comes of it. Three outputs of its filter graph
// are read from pipes: every frame as a small grey picture, one frame of each step as a large one, and the sound.
import { nominal, type Rate } from '#core/rate.ts';
import { framesPerStep, TRACES_VERSION, type Traces } from '#core/traces.ts';
import { Focus } from './focus.ts';
import { PictureReader } from './picture-reader.ts';
import { PictureTracer } from './picture-tracer.ts';
import { SOUND_RATE, SoundTracer } from './sound-tracer.ts';

/** Name of the file of traces in the folder of a proxy. */
export const TRACES_FILE = 'traces.json';

const SMALL_SIDE = 160;
/** Very long and very flat pictures are stretched to this: nothing that is measured minds. */
const SMALL_LEAST = 48;
const LARGE_SHORT_SIDE = 540;

export interface Analysed {
  rate: Rate;
  /** As shown. */
  width: number;
  height: number;
  audio: { channels: number } | null;
}

/** Which pipe each output is read from. */
export interface Pipes {
  small: number;
  large: number;
  sound: number;
}

export class Analyst {
  readonly #pipes: Pipes;
  readonly #step: number;
  readonly #small: { width: number; height: number };
  readonly #large: { width: number; height: number };
  readonly #tracer: PictureTracer;
  readonly #edges: (number | null)[] = [];
  readonly #sound: SoundTracer | null;
  /** Who reads which pipe. */
  readonly readers: Record<number, (chunk: Buffer) => void>;

  constructor(clip: Analysed, pipes: Pipes) {
    const { rate, audio } = clip;
    this.#pipes = pipes;
    this.#step = framesPerStep(nominal(rate));
    this.#small = sizeOf(clip, { side: 'longer', pixels: SMALL_SIDE });
    this.#large = sizeOf(clip, { side: 'shorter', pixels: LARGE_SHORT_SIDE });
    const fps = rate.num / rate.den;
    this.#tracer = new PictureTracer({ ...this.#small, fps, framesPerStep: this.#step });
    this.#sound = audio && new SoundTracer(audio.channels, this.#step / fps);
    const focus = new Focus(this.#large.width, this.#large.height);
    const small = new PictureReader(this.#small.width * this.#small.height, (picture) => this.#tracer.take(picture));
    const large = new PictureReader(this.#large.width * this.#large.height, (picture) => this.#edges.push(focus.edgeOf(picture)));
    this.readers = { [pipes.small]: (chunk) => small.take(chunk), [pipes.large]: (chunk) => large.take(chunk) };
    if (this.#sound) this.readers[pipes.sound] = (chunk) => this.#sound?.take(chunk);
  }

  /**
   * Filters that make the pictures, to follow a `split` of the picture at the clip's own rate into [small] and [large].
   * Levels are those of the full range, so that black is 0 whatever the camera wrote.
   */
  pictureFilters(): string[] {
    const grey = ({ width, height }: { width: number; height: number }) => `scale=${width}:${height}:flags=area:out_range=pc,format=gray`;
    return [`[small]${grey(this.#small)}[tosmall]`, `[large]select='not(mod(n,${this.#step}))',${grey(this.#large)}[tolarge]`];
  }

  /** Filters that make the sound, to follow an `asplit` into [measured]. */
  soundFilters(): string[] {
    return this.#sound ? [`[measured]aresample=${SOUND_RATE},aformat=sample_fmts=s16[tomeasure]`] : [];
  }

  outputArgs(): string[] {
    const picture = (pad: string, pipe: number) => ['-map', pad, '-fps_mode', 'passthrough', '-f', 'rawvideo', `pipe:${pipe}`];
    return [
      ...picture('[tosmall]', this.#pipes.small),
      ...picture('[tolarge]', this.#pipes.large),
      ...(this.#sound ? ['-map', '[tomeasure]', '-f', 's16le', `pipe:${this.#pipes.sound}`] : []),
    ];
  }

  /** When ffmpeg has ended. */
  result(): Traces {
    const { frames, picture, cuts } = this.#tracer.result(this.#edges);
    return { version: TRACES_VERSION, framesPerStep: this.#step, frames, picture, cuts, sound: this.#sound?.result(picture.edge.length) ?? null };
  }
}

/** A size with one side given and the other in proportion, both even; never larger than the clip on the shorter side. */
function sizeOf({ width, height }: { width: number; height: number }, { side, pixels }: { side: 'longer' | 'shorter'; pixels: number }): { width: number; height: number } {
  const [long, short] = [Math.max(width, height), Math.min(width, height)];
  const factor = side === 'longer' ? pixels / long : Math.min(1, pixels / short);
  const even = (n: number): number => Math.max(side === 'longer' ? SMALL_LEAST : 2, 2 * Math.round((n * factor) / 2));
  return { width: even(width), height: even(height) };
}
