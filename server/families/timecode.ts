import { fraction, type Exact } from '#core/exact.ts';

/** What is known of a clip when it is laid beside another. */
export interface Timed {
  camera: string;
  rate: { num: number; den: number };
  frames: number;
  /** Frame number of its first frame on its timecode clock. */
  startFrame: number;
  dropFrame: boolean;
  /** Milliseconds since 1970, or null. */
  capturedAt: number | null;
}

const DAY_SECONDS = 86_400n;
/** How far cameras' own clocks may be off: minutes, where nobody set them right. */
const CLOCKS_OFF_MS = 120_000;

/**
 * Which clock a clip's timecode counts. Labels of rates over 1001 without dropping fall behind the time of day by 3.6 s
 * an hour (SMPTE ST 12-1:2014); all others keep it. Two that count differently agree at the moment they were set only,
 * and nothing in the files tells which that was.
 */
const fallsBehind = ({ rate, dropFrame }: Timed): boolean => rate.den !== 1 && !dropFrame;

/**
 * Seconds from the first frame of `a` to the first of `b` by their timecodes, exactly.
 * @returns null where timecode says nothing: a clip has none (it begins at 0), they count differently, or share no moment.
 */
export function offsetByTimecode(a: Timed, b: Timed): Exact | null {
  if (a.startFrame === 0 || b.startFrame === 0 || fallsBehind(a) !== fallsBehind(b)) return null;
  const start = (clip: Timed) => fraction(BigInt(clip.startFrame) * BigInt(clip.rate.den), BigInt(clip.rate.num));
  let offset = start(b).minus(start(a));
  // A day ends between them.
  if (offset.seconds > 43_200) offset = offset.minus(fraction(DAY_SECONDS, 1n));
  else if (offset.seconds < -43_200) offset = offset.minus(fraction(-DAY_SECONDS, 1n));
  return overlap(a, b, offset.seconds) ? offset : null;
}

/** Whether two clips of different cameras may have rolled at once by the times the cameras noted, give or take two minutes. */
export function mayRollTogether(a: Timed, b: Timed): boolean {
  if (a.camera === b.camera || a.capturedAt === null || b.capturedAt === null) return false;
  const [lengthA, lengthB] = [a, b].map((clip) => (clip.frames * clip.rate.den * 1000) / clip.rate.num) as [number, number];
  return b.capturedAt < a.capturedAt + lengthA + CLOCKS_OFF_MS && a.capturedAt < b.capturedAt + lengthB + CLOCKS_OFF_MS;
}

function overlap(a: Timed, b: Timed, offset: number): boolean {
  const seconds = (clip: Timed) => (clip.frames * clip.rate.den) / clip.rate.num;
  return offset < seconds(a) && -offset < seconds(b);
}
