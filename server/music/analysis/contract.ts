export interface Analysis {
  /** Raised whenever the same sound may give other marks. */
  readonly version: number;
  readonly lengthMs: number;
  /** Whether the music has a pulse at all, 0..1; beats, bars and tempo are empty below the threshold. */
  readonly pulse: number;
  readonly tempo: readonly { atMs: number; bpm: number; confidence: number }[];
  readonly beats: readonly { atMs: number; strength: number; confidence: number; /** 1 is the first beat of a bar; null where bars cannot be told. */ inBar: number | null }[];
  readonly hits: readonly { atMs: number; strength: number; confidence: number }[];
  readonly builds: readonly { fromMs: number; toMs: number; riseDb: number; confidence: number }[];
  readonly turns: readonly { atMs: number; confidence: number }[];
  readonly silences: readonly { fromMs: number; toMs: number }[];
  readonly loudness: { integratedLufs: number | null; truePeakDbtp: number | null; rangeLu: number | null };
}
/** Told the share of the work that is done, 0..1. */
export type Report = (fraction: number) => void;
