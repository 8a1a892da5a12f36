import type { Rate } from '#core/rate.ts';

/** Samples a second of the string-out's sound, two channels of 16 bits each. */
export const SOUND_RATE = 48_000;
export const SAMPLE_BYTES = 4;

/** The sample with which frame `n` of the film begins, to the nearest. */
export const sampleAt = (n: number, { num, den }: Rate): number => Math.round((n * den * SOUND_RATE) / num);

/** How many samples so many frames last at most, wherever they lie in the film: where a frame is no whole number of samples one more may be needed. */
export const samplesOf = (frames: number, { num, den }: Rate): number => Math.ceil((frames * den * SOUND_RATE) / num);
