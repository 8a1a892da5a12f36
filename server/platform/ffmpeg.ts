import { execFile, spawn } from 'node:child_process';
import { existsSync } from 'node:fs';
import { dirname, join } from 'node:path';
import type { Readable } from 'node:stream';
import { promisify } from 'node:util';

/** The programs that read and make media. `ffprobe` is null where only ffmpeg was found (ffmpeg-static ships no other). */
export interface Tools {
  ffmpeg: string;
  ffprobe: string | null;
}

/** No ffmpeg that can be used; the message names the one command that mends it. */
export class FfmpegMissing extends Error {
  override readonly name = 'FfmpegMissing';
  readonly code = 'ffmpeg-missing';
}

/** ffmpeg or ffprobe ended in any way but well. */
export class FfmpegFailed extends Error {
  override readonly name = 'FfmpegFailed';
  readonly code = 'ffmpeg-failed';
  /** Null when a signal ended it. */
  readonly exitCode: number | null;
  /** The signal that ended it, which nobody here sent. */
  readonly killedBy: NodeJS.Signals | null;
  readonly command: string;
  /** The last 8 KB of what it said. */
  readonly stderrTail: string;
  constructor(command: string, exitCode: number | null, killedBy: NodeJS.Signals | null, stderrTail: string, cause?: unknown) {
    super(`ffmpeg ended with ${killedBy ?? `code ${exitCode}`}: ${stderrTail.trim().split('\n').at(-1) ?? ''}`, { cause });
    this.exitCode = exitCode;
    this.killedBy = killedBy;
    this.command = command;
    this.stderrTail = stderrTail;
  }
}

/** One report of a running encode. */
export interface FfmpegProgress {
  /** Frames of picture written so far; 0 for sound alone. */
  frame: number;
  /** Frames a second since the start. */
  fps: number;
  /** The last report: ffmpeg ends, for whatever reason. */
  last: boolean;
}

export interface FfmpegRun {
  /** Path of ffmpeg or ffprobe. */
  program: string;
  args: readonly string[];
  /** Ends the run: SIGTERM, and SIGKILL when that was not heeded. */
  signal?: AbortSignal | undefined;
  /** Called four times a second; makes ffmpeg report on pipe 3, which `pipes` must then leave free. */
  onProgress?: (progress: FfmpegProgress) => void;
  onStderr?: (text: string) => void;
  /** Who reads what is written to `pipe:1`, `pipe:4` and so on; a promise holds the writer back until it is kept. */
  pipes?: Readonly<Record<number, (chunk: Buffer) => void | Promise<void>>>;
}

const STDERR_TAIL_BYTES = 8192;
const KILL_AFTER_MS = 3000;
const PROGRESS_PIPE = 3;
// -fps_mode came with 5.1.
const OLDEST = [5, 1] as const;
const MEND = process.platform === 'darwin' ? 'brew install ffmpeg' : 'sudo apt-get install ffmpeg';

const run = promisify(execFile);

/**
 * Finds ffmpeg by running it: the path given, the one of the package ffmpeg-static, the one on PATH. ffprobe is the one
 * beside it or on PATH. A path given is meant, so nothing else is tried where it does not run.
 * @param given a path from the configuration, or null.
 * @throws FfmpegMissing when none runs, or only one that is older than 5.1.
 */
export async function findTools(given: string | null): Promise<Tools> {
  const candidates = given === null ? [await packagedFfmpeg(), 'ffmpeg'] : [given];
  let tooOld: string | null = null;
  for (const ffmpeg of candidates) {
    const version = ffmpeg === null ? null : await versionOf(ffmpeg);
    if (ffmpeg === null || version === null) continue;
    if (isTooOld(version)) tooOld = `${ffmpeg} is version ${version}, and 5.1 or later is needed`;
    else return { ffmpeg, ffprobe: await ffprobeFor(ffmpeg) };
  }
  const why = tooOld ?? (given === null ? 'There is no ffmpeg on this machine' : `FFMPEG_PATH names ${given}, which does not run`);
  throw new FfmpegMissing(`${why}. This mends it: ${MEND}`);
}

async function packagedFfmpeg(): Promise<string | null> {
  // Not named literally, because the package is optional and may be absent when types are checked.
  const name = 'ffmpeg-static';
  try {
    const { default: path } = (await import(name)) as { default: string | null };
    return path;
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'ERR_MODULE_NOT_FOUND') return null;
    throw error;
  }
}

async function ffprobeFor(ffmpeg: string): Promise<string | null> {
  const beside = join(dirname(ffmpeg), process.platform === 'win32' ? 'ffprobe.exe' : 'ffprobe');
  for (const ffprobe of [...(existsSync(beside) && ffmpeg !== 'ffmpeg' ? [beside] : []), 'ffprobe']) {
    const version = await versionOf(ffprobe);
    if (version !== null && !isTooOld(version)) return ffprobe;
  }
  return null;
}

async function versionOf(program: string): Promise<string | null> {
  try {
    const { stdout } = await run(program, ['-version']);
    return /^ff\w+ version (\S+)/.exec(stdout)?.[1] ?? null;
  } catch {
    return null;
  }
}

/** Builds from the development branch carry no number ("N-109468-gd39b34123d") and count as new. */
function isTooOld(version: string): boolean {
  const [, major, minor] = /^n?(\d+)\.(\d+)/.exec(version) ?? [];
  if (major === undefined || minor === undefined) return false;
  return Number(major) < OLDEST[0] || (Number(major) === OLDEST[0] && Number(minor) < OLDEST[1]);
}

/**
 * Runs ffmpeg or ffprobe to its end.
 * @returns the end of what it said on stderr.
 * @throws FfmpegFailed when it ends in any way but exit code 0; the reason of the signal when that stopped it;
 *   whatever a reader of a pipe threw.
 */
export async function runFfmpeg({ program, args, signal, onProgress, onStderr, pipes = {} }: FfmpegRun): Promise<string> {
  signal?.throwIfAborted();
  const all = onProgress ? ['-progress', `pipe:${PROGRESS_PIPE}`, '-stats_period', '0.25', ...args] : [...args];
  const readers: Record<number, (chunk: Buffer) => void | Promise<void>> = { ...pipes };
  if (onProgress) readers[PROGRESS_PIPE] = progressReader(onProgress);
  let tail = Buffer.alloc(0);
  readers[2] = (chunk) => {
    tail = Buffer.concat([tail, chunk]).subarray(-STDERR_TAIL_BYTES);
    onStderr?.(chunk.toString());
  };

  const highest = Math.max(...Object.keys(readers).map(Number));
  const stdio = Array.from({ length: highest + 1 }, (_, fd) => (readers[fd] ? ('pipe' as const) : ('ignore' as const)));
  const child = spawn(program, all, { stdio });
  const ended = new Promise<{ code: number | null; killedBy: NodeJS.Signals | null }>((resolve, reject) => {
    child.once('error', reject);
    child.once('close', (code, killedBy) => resolve({ code, killedBy }));
  });
  let killTimer: NodeJS.Timeout | undefined;
  const stop = () => {
    child.kill('SIGTERM');
    killTimer ??= setTimeout(() => child.kill('SIGKILL'), KILL_AFTER_MS);
  };
  signal?.addEventListener('abort', stop, { once: true });
  const reading = Object.entries(readers).map(async ([fd, reader]) => {
    try {
      for await (const chunk of child.stdio[Number(fd)] as Readable) await reader(chunk as Buffer);
    } catch (error) {
      stop();
      throw error;
    }
  });
  try {
    // Both are waited for whatever becomes of the other, so that nothing runs on after this function has answered.
    const [end, ...read] = await Promise.allSettled([ended, ...reading]);
    signal?.throwIfAborted();
    const stderrTail = tail.toString();
    const command = [program, ...all].map(quoted).join(' ');
    if (end.status === 'rejected') throw new FfmpegFailed(command, null, null, stderrTail || String(end.reason), end.reason);
    for (const result of read) if (result.status === 'rejected') throw result.reason;
    if (end.value.code !== 0) throw new FfmpegFailed(command, end.value.code, end.value.killedBy, stderrTail);
    return stderrTail;
  } finally {
    clearTimeout(killTimer);
    signal?.removeEventListener('abort', stop);
  }
}

/** Reads the lines of `-progress`: blocks of key=value, each ended by progress=continue or progress=end. */
function progressReader(onProgress: (progress: FfmpegProgress) => void): (chunk: Buffer) => void {
  let rest = '';
  let block: Record<string, string> = {};
  return (chunk) => {
    const lines = (rest + chunk.toString()).split('\n');
    rest = lines.pop() ?? '';
    for (const line of lines) {
      const at = line.indexOf('=');
      if (at < 0) continue;
      const key = line.slice(0, at);
      const value = line.slice(at + 1).trim();
      block[key] = value;
      if (key !== 'progress') continue;
      onProgress({ frame: Number(block['frame'] ?? 0), fps: Number(block['fps'] ?? 0) || 0, last: value === 'end' });
      block = {};
    }
  };
}

const quoted = (word: string): string => (/^[\w./:=,+%@-]+$/.test(word) ? word : `'${word.replaceAll("'", `'\\''`)}'`);
