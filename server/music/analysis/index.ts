export { analyse, LEAST_PULSE, VERSION } from './analyse.ts';
export { analyseInWorker } from './in-worker.ts';
export type { Analysis, Report } from './contract.ts';
