import { fileURLToPath } from 'node:url';
import { defineConfig } from 'vitest/config';

const under = (folder: string) => fileURLToPath(new URL(folder, import.meta.url));
const [cluster, builtPage] = [under('fixtures/cluster.ts'), under('fixtures/built-page.ts')];
const withPostgres = { globalSetup: [cluster] };

/** One project a folder: core is pure, server needs Postgres and ffmpeg, faults kills things, browser needs Chromium. */
export default defineConfig({
  root: under('..'),
  test: {
    maxWorkers: 2,
    // Processes that the tests start, many times over, find their modules compiled.
    env: { NODE_COMPILE_CACHE: under('../node_modules/.cache/node-compile') },
    projects: [
      { test: { name: 'core', include: ['tests/core/**/*.test.ts'], testTimeout: 60_000 } },
      { test: { name: 'server', include: ['tests/server/**/*.test.ts'], testTimeout: 60_000, hookTimeout: 120_000, ...withPostgres } },
      { test: { name: 'faults', include: ['tests/faults/**/*.test.ts'], testTimeout: 300_000, hookTimeout: 120_000, ...withPostgres } },
      { test: { name: 'browser', include: ['tests/browser/**/*.test.ts'], testTimeout: 300_000, hookTimeout: 180_000, globalSetup: [builtPage, cluster] } },
    ],
  },
});
