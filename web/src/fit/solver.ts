import type { FitAnswer, FitProblem } from '#core/fit-problem.ts';

/*
 * Works fits out beside the page. States: idle <-> working. A problem that comes while one is worked out makes that one
 * outdated: its worker is ended, because a computation cannot be spoken to, and the next gets a new one.
 */
export class FitSolver {
  #worker: Worker | null = null;
  #outdate: (() => void) | null = null;

  /** @returns null when another problem came first, or the solver was closed. Throws when the worker fails. */
  solve(problem: FitProblem): Promise<FitAnswer | null> {
    this.#stop();
    const worker = (this.#worker ??= new Worker(new URL('./fit-worker.ts', import.meta.url), { type: 'module' }));
    return new Promise((resolve, reject) => {
      this.#outdate = () => resolve(null);
      worker.onmessage = ({ data }: MessageEvent<FitAnswer>) => {
        this.#outdate = null;
        resolve(data);
      };
      worker.onerror = (event) => {
        event.preventDefault();
        this.#outdate = null;
        this.close();
        reject(new Error(`The fit could not be worked out: ${event.message || 'its worker did not start'}.`));
      };
      worker.postMessage(problem);
    });
  }

  close(): void {
    this.#stop();
    this.#worker?.terminate();
    this.#worker = null;
  }

  #stop(): void {
    if (!this.#outdate) return;
    this.#outdate();
    this.#outdate = null;
    this.#worker?.terminate();
    this.#worker = null;
  }
}
