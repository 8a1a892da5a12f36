/** What was measured of a track: programme loudness (EBU R 128) and true peak (ITU-R BS.1770); null where there is nothing to measure. */
export interface Measured {
  readonly integratedLufs: number | null;
  readonly truePeakDbtp: number | null;
}

/** Gains in decibels that bring tracks to one loudness, the highest at which none of them is raised or goes over 0 dBTP. */
export function equalGains<T extends Measured>(tracks: readonly T[]): Map<T, number> {
  const heard = tracks.filter(({ integratedLufs }) => integratedLufs !== null);
  const reach = heard.map(({ integratedLufs, truePeakDbtp }) => integratedLufs! - Math.max(0, truePeakDbtp ?? 0));
  const level = Math.min(...reach);
  return new Map(tracks.map((track) => [track, track.integratedLufs === null ? 0 : level - track.integratedLufs]));
}

/** A gain as a factor of amplitude. */
export const factorOf = (gainDb: number): number => 10 ** (gainDb / 20);
