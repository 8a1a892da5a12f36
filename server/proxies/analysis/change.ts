/** Grey levels by which a pixel has to change to count as changed: what a codec changes by itself lies below. */
const NOTICED = 3;

/** How much a picture differs from another one. */
export interface Difference {
  /** Mean of the absolute differences, in grey levels of 255. */
  mean: number;
  /** Share of the pixels that changed noticeably, 0 to 1. */
  changed: number;
}

/** Compares two grey pictures of one size. */
export function differenceOf(a: Uint8Array, b: Uint8Array): Difference {
  let sum = 0;
  let changed = 0;
  for (let at = 0; at < a.length; at++) {
    const by = Math.abs(a[at]! - b[at]!);
    sum += by;
    if (by >= NOTICED) changed++;
  }
  return { mean: sum / a.length, changed: changed / a.length };
}

/** The mean is that of ffmpeg's freezedetect (-60 dB); the share leaves a locked shot alone in which a bird crosses. */
const REPEATED = { mean: 0.255, changed: 0.0005 };

/** Whether a picture is the one before once more. */
export const isRepeated = ({ mean, changed }: Difference): boolean => mean <= REPEATED.mean && changed <= REPEATED.changed;
