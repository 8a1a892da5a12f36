// Sizes, waits and states of clips in words.
import type { Clip } from '#contract/footage';
import type { Progress } from '#contract/live';

/** A size in words: 1.4 GB. */
export function sizeText(bytes: number): string {
  const units = ['bytes', 'kB', 'MB', 'GB', 'TB'];
  let step = 0;
  let value = bytes;
  while (value >= 1000 && step < units.length - 1) [value, step] = [value / 1000, step + 1];
  return `${step === 0 ? value : value.toFixed(value < 10 ? 1 : 0)} ${units[step]}`;
}

/** A wait in words: "40 s left", "3 min left". */
export function timeLeft(seconds: number | null): string {
  if (seconds === null) return '';
  return seconds < 90 ? `${Math.max(1, Math.round(seconds))} s left` : `${Math.round(seconds / 60)} min left`;
}

const STAGE_WORDS: Record<Progress['stage'], string> = { probe: 'measuring', proxy: 'proxy', check: 'checking', store: 'putting away' };

/** How a clip's proxy stands, in words; empty when it is ready. */
export function stateWords(clip: Pick<Clip, 'state' | 'failure'>, progress: Progress | undefined): string {
  if (clip.state === 'ready') return '';
  if (clip.state === 'failed') return 'failed';
  if (clip.state === 'received' || !progress) return clip.state === 'received' ? 'waiting for a worker' : 'being made';
  return [STAGE_WORDS[progress.stage], `${Math.floor(progress.fraction * 100)} %`, timeLeft(progress.etaSeconds)].filter(Boolean).join(', ');
}
