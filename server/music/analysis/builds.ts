/** A span, half-open, over which the music grows. */
export interface Build {
  readonly fromMs: number;
  readonly toMs: number;
  readonly riseDb: number;
  readonly confidence: number;
}

const STEP_MS = 100;
/** Loudness is smoothed over this much, so that a bar's beats are no builds. */
const SMOOTH_STEPS = 15;
const LEAST_RISE_DB = 4;
/** A rise that is sooner over is a turn, not a build. */
const SHORTEST_MS = 3000;
/** A fall of so much ends a rise. */
const FALL_DB = 1.5;
/** The share of the rise cut off at either end, where the curve hardly moves. */
const TRIM = 0.08;
const FLOOR_POWER = 1e-7;

/**
 * Spans of rising energy.
 * @param powers K-weighted power of each 100 ms.
 */
export function buildsOf(powers: Float64Array): Build[] {
  const levels = smoothed(powers);
  const builds: Build[] = [];
  let low = 0;
  let high = 0;
  const close = (): void => {
    const build = buildBetween(levels, low, high);
    if (build) builds.push(build);
  };
  for (let at = 1; at < levels.length; at++) {
    if (levels[at]! > levels[high]!) high = at;
    // Too far below the top: the rise is over, and the next starts here. Below the foot before any rise: the foot is here.
    if (levels[high]! - levels[at]! >= FALL_DB) {
      close();
      low = high = at;
    } else if (levels[at]! < levels[low]!) low = high = at;
  }
  close();
  return builds;
}

function buildBetween(levels: Float64Array, low: number, high: number): Build | null {
  const [foot, top] = [levels[low] ?? 0, levels[high] ?? 0];
  const rise = top - foot;
  if (rise < LEAST_RISE_DB) return null;
  let from = low;
  while (levels[from + 1]! < foot + TRIM * rise) from++;
  let to = high;
  while (levels[to - 1]! > top - TRIM * rise) to--;
  if ((to - from) * STEP_MS < SHORTEST_MS) return null;
  return { fromMs: from * STEP_MS, toMs: to * STEP_MS, riseDb: Math.round(rise * 10) / 10, confidence: steadiness(levels.subarray(from, to + 1)) * (1 - Math.exp(-rise / LEAST_RISE_DB)) };
}

/** How near to a straight line a rise is: the share of its variance that time explains. */
function steadiness(levels: Float64Array): number {
  const middle = (levels.length - 1) / 2;
  const mean = levels.reduce((sum, level) => sum + level, 0) / levels.length;
  let [xy, xx, yy] = [0, 0, 0];
  levels.forEach((level, x) => {
    xy += (x - middle) * (level - mean);
    xx += (x - middle) ** 2;
    yy += (level - mean) ** 2;
  });
  return yy > 0 ? (xy * xy) / (xx * yy) : 0;
}

/** dB of the mean power around each step. */
function smoothed(powers: Float64Array): Float64Array {
  const sums = new Float64Array(powers.length + 1);
  powers.forEach((power, i) => (sums[i + 1] = sums[i]! + power));
  const reach = (SMOOTH_STEPS - 1) / 2;
  return powers.map((_, i) => {
    const from = Math.max(0, i - reach);
    const to = Math.min(powers.length, i + reach + 1);
    return 10 * Math.log10(FLOOR_POWER + (sums[to]! - sums[from]!) / (to - from));
  });
}
