import type { Found } from './walk.ts';

const SHOWN_EVERY_MS = 250;
/** Without a terminal, a line now and then is enough. */
const TOLD_EVERY_MS = 30_000;
/** Speed is what it was over the last while, so that the time left follows the link. */
const WINDOW_MS = 20_000;

/** Where words go: the foot of a terminal is written over, lines stay. */
export interface Out {
  isTTY?: boolean;
  columns?: number;
  write(text: string): unknown;
}

/** How far a run is, with the time left. A file counts half when it is summed and whole when it is sent. */
export class Progress {
  readonly #out: Out;
  readonly #sizes = new Map<string, number>();
  readonly #done = new Map<string, number>();
  #recent: { at: number; done: number }[] = [];
  #shownAt = 0;
  #foot = false;
  arrived = 0;

  constructor(out: Out) {
    this.#out = out;
  }

  /** The files known so far. */
  expect(files: readonly Found[]): void {
    for (const { path, size } of files) this.#sizes.set(path, size);
  }

  tell({ path, size }: Found, { summed = 0, sent }: { summed?: number; sent?: number }, now = Date.now()): void {
    this.#done.set(path, sent === undefined ? summed / 2 : (size + sent) / 2);
    if (now - this.#shownAt < (this.#out.isTTY ? SHOWN_EVERY_MS : TOLD_EVERY_MS)) return;
    this.#shownAt = now;
    this.#show(now);
  }

  /** A line that stays. Names of files may hold what a terminal would obey; it is shown instead. */
  say(words: string): void {
    if (this.#foot) this.#out.write('\r\x1b[K');
    this.#foot = false;
    this.#out.write(`${words.replace(/(?!\n)\p{Cc}/gu, (mark) => `\\x${mark.codePointAt(0)!.toString(16).padStart(2, '0')}`)}\n`);
  }

  words(now = Date.now()): string {
    const sum = (numbers: Iterable<number>) => [...numbers].reduce((a, b) => a + b, 0);
    const total = sum(this.#sizes.values());
    const done = Math.min(total, sum(this.#done.values()));
    this.#recent = [...this.#recent.filter(({ at }) => now - at <= WINDOW_MS), { at: now, done }];
    const first = this.#recent[0]!;
    const speed = now > first.at ? ((done - first.done) / (now - first.at)) * 1000 : 0;
    const left = speed > 0 ? `, ${timeText((total - done) / speed)} left` : '';
    return `${this.arrived} of ${this.#sizes.size} files, ${total ? Math.floor((100 * done) / total) : 100} % of ${bytesText(total)}${speed > 0 ? `, ${bytesText(speed)}/s` : ''}${left}`;
  }

  #show(now: number): void {
    const words = this.words(now);
    if (!this.#out.isTTY) return void this.#out.write(`${words}\n`);
    this.#foot = true;
    this.#out.write(`\r\x1b[K${words.slice(0, (this.#out.columns ?? 80) - 1)}`);
  }
}

export function timeText(seconds: number): string {
  if (seconds < 90) return `${Math.max(1, Math.round(seconds))} s`;
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  return `${Math.floor(seconds / 3600)} h ${Math.round((seconds % 3600) / 60)} min`;
}

export function bytesText(bytes: number): string {
  const units = ['bytes', 'kB', 'MB', 'GB', 'TB'];
  const step = bytes < 1000 ? 0 : Math.min(units.length - 1, Math.floor(Math.log10(bytes) / 3));
  const value = bytes / 1000 ** step;
  return `${step === 0 ? Math.round(value) : value.toFixed(value < 10 ? 1 : 0)} ${units[step]}`;
}
