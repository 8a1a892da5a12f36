import { FfmpegFailed } from '../platform/ffmpeg.ts';
import { Refusal } from '../platform/errors.ts';
import { isPassing } from '../proxies/index.ts';
import type { TrackFailure } from './contract.ts';

const STAGE_WORDS: Record<TrackFailure['stage'], string> = { copy: 'making the copy that plays', analysis: 'listening to the track', store: 'putting the track away' };

/** What went wrong with a track, for the person at the screen. */
export function failureOf(error: unknown, stage: TrackFailure['stage']): TrackFailure {
  const said = { code: 'track-failed', stage, command: '', output: '', mayRetry: true };
  if (error instanceof FfmpegFailed) {
    const words = isPassing(error) ? 'the machine ran out of room or memory.' : (error.stderrTail.trim().split('\n').at(-1) ?? 'it said nothing.');
    return { ...said, code: error.code, reason: `ffmpeg stopped while ${STAGE_WORDS[stage]}: ${words}`, command: error.command, output: error.stderrTail };
  }
  // The file itself is refused: it will be the same file next time.
  if (error instanceof Refusal) return { ...said, code: error.code, reason: error.message, mayRetry: error.code === 'disk-full' };
  const { code, message } = error as NodeJS.ErrnoException;
  if (code === 'ENOENT') return { ...said, code: 'original-missing', reason: 'The original is not where it was put. Look at the media folder, then try again.' };
  return { ...said, reason: `Something went wrong while ${STAGE_WORDS[stage]}: ${message}` };
}

/** For a track whose job was lost as often as the queue tries. */
export const workerDied = (): TrackFailure => ({
  code: 'worker-died',
  stage: 'analysis',
  reason: 'The worker died each time it worked on this track, perhaps for want of memory. Look at the machine, then try again.',
  command: '',
  output: '',
  mayRetry: true,
});
