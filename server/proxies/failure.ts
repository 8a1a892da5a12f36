import type { ClipFailure } from '../footage/contract.ts';
import { FfmpegFailed } from '../platform/ffmpeg.ts';
import { Refusal } from '../platform/errors.ts';
import { ProxyUnsound } from './check.ts';

export type Stage = ClipFailure['stage'];

/** System errors that may be gone a moment later, or on another machine. */
const PASSING = new Set(['ENOSPC', 'EDQUOT', 'EIO', 'EMFILE', 'ENFILE', 'ENOMEM', 'EAGAIN', 'ECONNRESET', 'ECONNREFUSED', 'ETIMEDOUT', 'EPIPE']);
const PASSING_WORDS = /No space left on device|Cannot allocate memory|Input\/output error|Resource temporarily unavailable/;

const STAGE_WORDS: Record<Stage, string> = {
  probe: 'measuring the file',
  proxy: 'making the proxy',
  check: 'checking the proxy',
  store: 'putting the proxy away',
};

/** Whether trying again, without anybody doing anything, may end otherwise. */
export function isPassing(error: unknown): boolean {
  if (error instanceof FfmpegFailed) return error.killedBy !== null || PASSING_WORDS.test(error.stderrTail);
  if (error instanceof Refusal) return error.code === 'disk-full';
  const code = (error as NodeJS.ErrnoException).code;
  return code !== undefined && PASSING.has(code);
}

/** What went wrong, for the person at the screen. */
export function failureOf(error: unknown, stage: Stage): ClipFailure {
  const said = { code: 'proxy-failed', stage, command: '', output: '', mayRetry: true };
  if (error instanceof FfmpegFailed) {
    const words = isPassing(error) ? spaceOrMemory(error.stderrTail) : lastLine(error.stderrTail);
    return { ...said, code: error.code, reason: `ffmpeg stopped while ${STAGE_WORDS[stage]}: ${words}`, command: error.command, output: error.stderrTail };
  }
  // The file itself is refused: it will be the same file next time.
  if (error instanceof Refusal) return { ...said, code: error.code, reason: error.message, mayRetry: error.code === 'disk-full' };
  if (error instanceof ProxyUnsound) return { ...said, code: error.code, stage: 'check', reason: `The proxy was made, but is not right: ${error.message}` };
  const { code, message } = error as NodeJS.ErrnoException;
  if (code === 'ENOENT') return { ...said, code: 'original-missing', reason: 'The original is not where it was put. Look at the media folder, then try again.' };
  return { ...said, reason: `Something went wrong while ${STAGE_WORDS[stage]}: ${message}` };
}

function spaceOrMemory(output: string): string {
  if (output.includes('No space left on device')) return 'the disk is full.';
  if (output.includes('Cannot allocate memory')) return 'there was not enough memory.';
  return 'it was ended from outside, perhaps for want of memory.';
}

function lastLine(output: string): string {
  return output.trim().split('\n').at(-1) ?? 'it said nothing.';
}
