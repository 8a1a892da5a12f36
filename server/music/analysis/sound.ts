/** Sound as the analysis reads it: any number of times, from the start, block by block, so that it need not fit in memory. */
export interface Sound {
  /** Samples a second. */
  readonly sampleRate: number;
  /** Samples in each channel. */
  readonly length: number;
  /** 1 or 2 as a rule; loudness takes each at the weight of a front channel. */
  readonly channels: number;
  /** The samples in order, full scale ±1: per block one array a channel, all of the same length. A block is the reader's only until the next. */
  blocks(): Iterable<readonly Float32Array[]>;
}

const BLOCK = 1 << 16;

/**
 * Sound that is in memory.
 * @param pcm one array a channel, full scale ±1.
 * @throws RangeError when there is no channel, the channels differ in length, or the rate is none.
 */
export function soundOf(pcm: readonly Float32Array[], sampleRate: number): Sound {
  const [first] = pcm;
  if (!first) throw new RangeError('Sound has at least one channel');
  if (pcm.some((channel) => channel.length !== first.length)) throw new RangeError('All channels are of one length');
  if (!(sampleRate >= 1000 && Number.isFinite(sampleRate))) throw new RangeError(`No sound is analysed at ${sampleRate} samples a second`);
  return {
    sampleRate,
    length: first.length,
    channels: pcm.length,
    *blocks() {
      for (let at = 0; at < first.length; at += BLOCK) yield pcm.map((channel) => channel.subarray(at, at + BLOCK));
    },
  };
}

/** The mean of the channels, block by block. NaN and infinities, which broken float files hold, count as silence. */
export function* monoBlocks(sound: Sound): Iterable<Float32Array> {
  for (const block of sound.blocks()) {
    const mono = new Float32Array(block[0]!.length);
    for (let i = 0; i < mono.length; i++) {
      let sum = 0;
      for (const channel of block) sum += channel[i]!;
      mono[i] = Number.isFinite(sum) ? sum / block.length : 0;
    }
    yield mono;
  }
}
