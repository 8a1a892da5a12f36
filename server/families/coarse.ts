// Where two sounds may lie on one another, to a hundredth of a second: by how their loudness changes in eight bands.
import { Fft } from '#core/fft.ts';
import { SOUND_RATE, type Sound } from './sound.ts';

/** Samples between two measurings, and the length of what is measured. */
const HOP = SOUND_RATE / 100;
const WINDOW = 256;
/** Edges of the bands in Hz, inside what a telephone carries. */
const EDGES = [300, 500, 750, 1050, 1400, 1800, 2300, 2800, 3400];
const BANDS = EDGES.length - 1;
/** Power of a window below which there is silence: the rounding to 16 bits alone is about this much. */
const FLOOR = 4 * WINDOW;
const READ_WINDOWS = 3000;
/** Hundredths of a second that the sounds must share. */
const LEAST_SHARED = 150;
/** How far apart two candidates are at least; nearer ones are the same one, blurred by drift. */
const APART = 6;
/** Deviations above which a lag is worth a look; unrelated sounds of an hour reach five by chance. */
const WORTH_A_LOOK = 3.5;

/** The rise and fall of a sound: of each band a hundred numbers a second, of mean 0 and deviation 1. */
export type Shape = Float32Array[];

/** Measures the shape of a sound, half a minute at a time. */
export function shapeOf(sound: Sound): Shape {
  const count = Math.max(0, Math.floor((sound.length - WINDOW) / HOP) + 1);
  const bands = EDGES.slice(1).map(() => new Float32Array(count));
  const fft = new Fft(WINDOW);
  const [re, im] = [new Float64Array(WINDOW), new Float64Array(WINDOW)];
  const hann = Float64Array.from({ length: WINDOW }, (_, n) => 0.5 - 0.5 * Math.cos((2 * Math.PI * n) / WINDOW));
  const edges = EDGES.map((hz) => Math.round((hz * WINDOW) / SOUND_RATE));
  for (let from = 0; from < count; from += READ_WINDOWS) {
    const windows = Math.min(READ_WINDOWS, count - from);
    const samples = sound.read(from * HOP, (windows - 1) * HOP + WINDOW);
    for (let w = 0; w < windows; w++) {
      for (let n = 0; n < WINDOW; n++) re[n] = samples[w * HOP + n]! * hann[n]!;
      im.fill(0);
      fft.transform(re, im);
      for (let band = 0; band < BANDS; band++) {
        let power = FLOOR;
        for (let k = edges[band]!; k < edges[band + 1]!; k++) power += re[k]! ** 2 + im[k]! ** 2;
        bands[band]![from + w] = Math.log(power);
      }
    }
  }
  for (const band of bands) toChanges(band);
  return bands;
}

/** Turns loudness into its changes, those a strong attack makes held back, so that no single door decides. */
function toChanges(band: Float32Array): void {
  for (let n = band.length - 1; n > 1; n--) band[n] = band[n]! - band[n - 2]!;
  band.fill(0, 0, 2);
  let power = 0;
  for (const value of band) power += value * value;
  const deviation = Math.sqrt(power / Math.max(1, band.length));
  for (let n = 0; n < band.length; n++) band[n] = deviation < 1e-6 ? 0 : Math.max(-3, Math.min(3, band[n]! / deviation));
}

export interface Candidate {
  /** Samples (of SOUND_RATE) that b begins after a; negative where it begins before. */
  lag: number;
  /** In standard deviations over all lags. */
  score: number;
}

/**
 * The lags at which two shapes are most alike, best first.
 * The sums over the shared stretch are divided by the root of its length, so that every lag has the same chance.
 * @param most how many are answered.
 */
export function candidates(a: Shape, b: Shape, most: number): Candidate[] {
  const [lengthA, lengthB] = [a[0]!.length, b[0]!.length];
  const size = 2 ** Math.ceil(Math.log2(Math.max(2, lengthA + lengthB)));
  const fft = new Fft(size);
  const [sumRe, sumIm] = [new Float64Array(size), new Float64Array(size)];
  const [re, im] = [new Float64Array(size), new Float64Array(size)];
  for (let band = 0; band < BANDS; band++) {
    re.fill(0).set(a[band]!);
    im.fill(0).set(b[band]!);
    fft.transform(re, im);
    // Both are real, so one transform holds both: A = (X[k] + X*[-k]) / 2, B = (X[k] - X*[-k]) / 2i; the sum of A*·B.
    for (let k = 0; k < size; k++) {
      const m = (size - k) & (size - 1);
      const [ar, ai, br, bi] = [re[k]! + re[m]!, im[k]! - im[m]!, im[k]! + im[m]!, re[m]! - re[k]!];
      sumRe[k]! += ar * br + ai * bi;
      sumIm[k]! += ar * bi - ai * br;
    }
  }
  // The transform forward of A*·B holds at place n the likeness of a[t + n] and b[t].
  fft.transform(sumRe, sumIm);
  const [first, last] = [LEAST_SHARED - lengthB, lengthA - LEAST_SHARED];
  if (last < first) return [];
  const scores = new Float64Array(last - first + 1);
  let power = 0;
  for (let n = 0; n < scores.length; n++) {
    const lag = first + n;
    const shared = Math.min(lengthA, lag + lengthB) - Math.max(0, lag);
    // Three lags together, because a clock that drifts spreads the likeness over its neighbours.
    let likeness = 0;
    for (let by = -1; by <= 1; by++) likeness += sumRe[(lag + by + size) & (size - 1)]!;
    scores[n] = likeness / Math.sqrt(shared);
    power += scores[n]! ** 2;
  }
  const deviation = Math.sqrt(power / scores.length);
  if (deviation === 0) return [];
  const found: Candidate[] = [];
  const order = Uint32Array.from(scores.keys()).filter((n) => scores[n]! > WORTH_A_LOOK * deviation).sort((x, y) => scores[y]! - scores[x]!);
  for (const n of order) {
    if (found.length === most) break;
    const lag = (first + n) * HOP;
    if (found.every((other) => Math.abs(other.lag - lag) > APART * HOP)) found.push({ lag, score: scores[n]! / deviation });
  }
  return found;
}
