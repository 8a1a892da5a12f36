// The solver of the page by itself, for the bench: what frames are drawn while a fit is worked out.
import type { FitProblem } from '../../../../server/core/fit-problem.ts';
import { FitSolver } from '../../../../web/src/fit/solver.ts';

const solver = new FitSolver();

/** Works a problem out, or waits for so many milliseconds, and records the moments of frames meanwhile, in milliseconds. */
async function fitWatched(problem: FitProblem | number): Promise<{ took: number; frames: number[] }> {
  const frames: number[] = [];
  let over = false;
  const step = (at: number): void => {
    frames.push(at);
    if (!over) requestAnimationFrame(step);
  };
  await new Promise((next) => requestAnimationFrame(next));
  requestAnimationFrame(step);
  const from = performance.now();
  await (typeof problem === 'number' ? new Promise((done) => setTimeout(done, problem)) : solver.solve(problem));
  const took = performance.now() - from;
  // The frame after it counts too.
  await new Promise((next) => requestAnimationFrame(next));
  over = true;
  return { took, frames };
}

Object.assign(window, { fitWatched });
