// The worker that settles lengths, so that the page never waits for it: a problem comes in, its answer goes out.
import { solveFit, type FitProblem } from '#core/fit-problem.ts';

self.onmessage = ({ data }: MessageEvent<FitProblem>) => self.postMessage(solveFit(data));
