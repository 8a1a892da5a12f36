/** Beats whose lengths are taken together. */
const SPAN = 8;
/** A tempo is said anew when it has changed by this much. */
const CHANGE = 0.01;

/**
 * Tempo over time, from the times of beats: the slope of a line through the beats around each; said at the first beat and
 * wherever it is another than said before.
 * @param times seconds, in order. @returns index of the beat and beats a minute.
 */
export function tempoOf(times: readonly number[]): { beat: number; bpm: number }[] {
  const said: { beat: number; bpm: number }[] = [];
  if (times.length < 2) return said;
  times.forEach((_, beat) => {
    const from = Math.max(0, Math.min(beat - SPAN / 2, times.length - 1 - SPAN));
    const bpm = 60 / slope(times.slice(from, from + SPAN + 1));
    const last = said.at(-1);
    if (!last || Math.abs(bpm / last.bpm - 1) >= CHANGE) said.push({ beat, bpm: Math.round(bpm * 100) / 100 });
  });
  return said;
}

/** Seconds a beat by least squares. */
function slope(times: readonly number[]): number {
  const middle = (times.length - 1) / 2;
  const mean = times.reduce((sum, time) => sum + time, 0) / times.length;
  let [xy, xx] = [0, 0];
  times.forEach((time, x) => {
    xy += (x - middle) * (time - mean);
    xx += (x - middle) ** 2;
  });
  return xy / xx;
}
