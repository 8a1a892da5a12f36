// Two sounds of the same moment laid on one another, or the word that it cannot be told. The worse mistake is a false
// alignment: a pair that is not told costs a person one look, a false one costs trust in all of them.
//
// First the lags at which the loudness of both changes alike (coarse.ts), then for each of the best of them short
// stretches by their phases (fine.ts). A lag is believed when stretches agree on it, whatever their own likeness, and
// when no other lag is nearly as well founded: music that repeats, and clicks, fit at several places.
import { candidates, shapeOf, type Shape } from './coarse.ts';
import { Finder } from './fine.ts';
import { SOUND_RATE, type Sound } from './sound.ts';

export type Alignment =
  | {
      told: true;
      /** Seconds that b begins after a, right in the middle of what they share; negative where b begins before. */
      seconds: number;
      /** Millionths that the clock of b runs slow against that of a; 0 where the shared stretch is too short to say. */
      driftPpm: number;
      /** 0 to 1: share of the stretches looked at that agree. */
      confidence: number;
    }
  | { told: false; why: 'silent' | 'repeats' | 'unrelated' };

/** Candidates that are looked at, and stretches looked at for each. */
const CANDIDATES = 12;
const STRETCHES = 12;
/** Of these so many are looked at first; a lag that none of them speaks for is left. */
const FIRST = 4;
/** Lengths of stretches in samples: two seconds, and a second where little is shared. */
const [LONG, SHORT] = [16_384, 8192];
/** How far off a stretch may lie: the coarse step, and 24 ms of drift at 20 ppm over 20 minutes, with room. */
const REACH = Math.round(0.06 * SOUND_RATE);
/** A stretch of unrelated sound has its highest of a thousand places at 3.3 deviations, and hardly ever at this many. */
const CLEAR = 5.5;
/** A peak this much higher than the next is one of its kind; a tone has many that are equal. */
const ABOVE_SECOND = 1.25;
/** Samples that stretches of one lag may differ by, besides the drift: the lag between two microphones changes as people move. */
const TOLERANCE = 0.004 * SOUND_RATE;
const MOST_DRIFT = 100e-6;
const LEAST_AGREEING = 3;
/** Least share of the stretches that have to agree. */
const LEAST_SHARE = 0.3;
/** A rival with this share of the best one's weight makes both doubtful. */
const RIVAL = 0.5;
/** Seconds between the outermost agreeing stretches from which on drift is measured. */
const DRIFT_FROM = 60;

/** Shapes may be given where they are known already: each costs a pass through its sound. */
export function align(a: Sound, b: Sound, shapes: { a?: Shape; b?: Shape } = {}): Alignment {
  const [shapeA, shapeB] = [shapes.a ?? shapeOf(a), shapes.b ?? shapeOf(b)];
  if (isSilent(shapeA) || isSilent(shapeB)) return { told: false, why: 'silent' };
  const founded = candidates(shapeA, shapeB, CANDIDATES)
    .map(({ lag }) => support(a, b, lag))
    .filter((found) => found !== null)
    .toSorted((one, other) => other.weight - one.weight);
  const [best, ...others] = founded;
  if (!best) return { told: false, why: 'unrelated' };
  const rival = others.find((other) => Math.abs(other.lag - best.lag) > 2 * REACH && other.weight > RIVAL * best.weight);
  if (rival) return { told: false, why: 'repeats' };
  return { told: true, seconds: best.lag / SOUND_RATE, driftPpm: best.drift * 1e6, confidence: best.share };
}

const isSilent = (shape: Shape): boolean => shape.every((band) => band.every((value) => value === 0));

interface Support {
  /** Samples, fractions too: in the middle of what is shared. */
  lag: number;
  drift: number;
  /** Share of the stretches that agree. */
  share: number;
  /** Sum of the heights of those that agree. */
  weight: number;
}

/** What speaks for a lag: null when too few stretches agree. */
function support(a: Sound, b: Sound, lag: number): Support | null {
  const from = Math.max(0, lag);
  const until = Math.min(a.length, lag + b.length);
  const length = until - from >= 3 * LONG ? LONG : SHORT;
  if (until - from < SOUND_RATE) return null;
  const finder = new Finder(length);
  const room = Math.max(0, until - from - length);
  const count = Math.min(STRETCHES, Math.max(LEAST_AGREEING, Math.floor((2 * room) / length) + 1));
  const clear: { at: number; shift: number; height: number }[] = [];
  let heard = 0;
  const order = Array.from({ length: count }, (_, n) => n).toSorted((one, other) => (one * FIRST) % count - ((other * FIRST) % count));
  for (const [looked, n] of order.entries()) {
    if (looked === FIRST && clear.length === 0) return null;
    const start = Math.round(from + (room * n) / (count - 1));
    const peak = finder.compare(a, start, b, start - lag, REACH);
    if (!peak) continue;
    heard++;
    // b lying later inside its own stretch means that it began earlier.
    if (peak.height > CLEAR && peak.height > ABOVE_SECOND * peak.second) clear.push({ at: start + length / 2, shift: -peak.shift, height: peak.height });
  }
  const agreeing = mostAgreeing(clear);
  if (agreeing.length < LEAST_AGREEING || agreeing.length < LEAST_SHARE * heard) return null;
  const line = lineThrough(agreeing);
  const middle = (from + until) / 2;
  return {
    lag: lag + line.shift + line.slope * (middle - line.at),
    drift: line.slope,
    share: agreeing.length / heard,
    weight: agreeing.reduce((sum, { height }) => sum + height, 0),
  };
}

interface Found {
  at: number;
  shift: number;
  height: number;
}

/** The largest set of stretches whose shifts lie within the tolerance and the drift a clock may have of one of them. */
function mostAgreeing(found: readonly Found[]): Found[] {
  let best: Found[] = [];
  for (const one of found) {
    const agreeing = found.filter((other) => Math.abs(other.shift - one.shift) <= TOLERANCE + MOST_DRIFT * Math.abs(other.at - one.at));
    if (agreeing.length > best.length) best = agreeing;
  }
  return best;
}

/** The line of least squares; level where the stretches lie too near one another to tell a slope. */
function lineThrough(found: readonly Found[]): { at: number; shift: number; slope: number } {
  const at = found.reduce((sum, one) => sum + one.at, 0) / found.length;
  const shift = found.reduce((sum, one) => sum + one.shift, 0) / found.length;
  const reach = Math.max(...found.map((one) => one.at)) - Math.min(...found.map((one) => one.at));
  if (reach < DRIFT_FROM * SOUND_RATE) return { at, shift, slope: 0 };
  const [over, under] = found.reduce(([o, u], one) => [o + (one.at - at) * (one.shift - shift), u + (one.at - at) ** 2], [0, 0]);
  return { at, shift, slope: over / under };
}
