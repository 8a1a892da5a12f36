import type { Mark, MarkKind, Rights, Track } from '#contract/music';

export const KIND_WORDS: Record<MarkKind, string> = { beat: 'Beat', hit: 'Hit', build: 'Build', turn: 'Turn', named: 'Named' };
export const KIND_OPTIONS = (Object.keys(KIND_WORDS) as MarkKind[]).map((value) => ({ value, label: KIND_WORDS[value] }));
export const RIGHTS_WORDS: Record<Rights, string> = { kept: 'Rights kept', missing: 'Rights missing', 'not-needed': 'Rights not needed' };

/** A moment of a track: 1:04.250. */
export function momentWords(ms: number): string {
  const whole = Math.round(ms);
  return `${Math.floor(whole / 60_000)}:${String(Math.floor(whole / 1000) % 60).padStart(2, '0')}.${String(whole % 1000).padStart(3, '0')}`;
}

/** A length of a track: 4:03. */
export const lengthWords = (ms: number): string => momentWords(Math.round(ms / 1000) * 1000).slice(0, -4);

/** Reads a moment as people write it, 64.25 or 1:04.250; null when it is none. */
export function readMoment(text: string): number | null {
  const [, minutes, seconds] = /^\s*(?:(\d{1,4}):)?(\d{1,5}(?:[.,]\d{1,3})?)\s*$/.exec(text) ?? [];
  if (seconds === undefined) return null;
  const value = Number(seconds.replace(',', '.'));
  return minutes !== undefined && value >= 60 ? null : Math.round(Number(minutes ?? 0) * 60_000 + value * 1000);
}

/** What a mark is called in a sentence: "Hit at 0:12.500", "gulls at 1:04.250". */
export const markWords = ({ kind, name, atMs }: Pick<Mark, 'kind' | 'name' | 'atMs'>): string => `${name || KIND_WORDS[kind]} at ${momentWords(atMs)}`;

/** How sure a mark is: the analysis in per cent, or the person who vouches for it. */
export const surenessWords = (mark: Mark, nameOf: (userId: string) => string): string =>
  mark.byId !== null ? `by ${nameOf(mark.byId)}` : mark.confidence === null ? 'by the analysis' : `${Math.round(mark.confidence * 100)} % sure`;

const decibels = (value: number): string => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value).toFixed(1)}`;

/** What was measured of a track, in the units of EBU R 128. */
export function loudnessWords({ integratedLufs, truePeakDbtp }: Track): string {
  if (integratedLufs === null) return 'Silence throughout';
  return `${decibels(integratedLufs)} LUFS${truePeakDbtp === null ? '' : `, peak ${decibels(truePeakDbtp)} dBTP`}`;
}

/** The tempo, when there is one: "about 96 BPM", "84 to 120 BPM". */
export function tempoWords({ tempo }: Track): string | null {
  if (tempo.length === 0) return null;
  const bpm = tempo.map((one) => one.bpm);
  const [low, high] = [Math.round(Math.min(...bpm)), Math.round(Math.max(...bpm))];
  return high - low <= 2 ? `about ${Math.round(bpm.reduce((sum, one) => sum + one, 0) / bpm.length)} BPM` : `${low} to ${high} BPM`;
}

/** Time left of a job, roughly. */
export const leftWords = (seconds: number | null): string => (seconds === null ? '' : seconds < 90 ? `about ${Math.max(1, Math.round(seconds))} s left` : `about ${Math.round(seconds / 60)} min left`);
