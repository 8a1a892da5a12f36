/** Samples a second that sound is aligned at: it keeps what a telephone does, and a sample is a 340th of a frame. */
export const SOUND_RATE = 8000;

/** Mono sound of a clip at SOUND_RATE, its first sample at the clip's first frame; read piece by piece, so that hours of it need no memory. */
export interface Sound {
  /** Samples in all. */
  length: number;
  /** Samples from `from` on, signed 16 bit; what lies outside the sound is silence. */
  read(from: number, count: number): Int16Array;
}

/** Sound that is in memory. */
export function soundOf(samples: Int16Array): Sound {
  return {
    length: samples.length,
    read(from, count) {
      const piece = new Int16Array(count);
      const first = Math.max(0, from);
      if (first < from + count && first < samples.length) piece.set(samples.subarray(first, Math.min(samples.length, from + count)), first - from);
      return piece;
    },
  };
}
