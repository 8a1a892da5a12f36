// Run by `npm start` and `npm test` before anything else: makes what is generated, when its sources are newer.
import { spawnSync } from 'node:child_process';
import { existsSync, readdirSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('..', import.meta.url));

/** Newest change below a file or folder, in milliseconds; 0 when there is nothing. */
function newest(path: string): number {
  if (!existsSync(path)) return 0;
  const stat = statSync(path);
  if (!stat.isDirectory()) return stat.mtimeMs;
  return readdirSync(path).reduce((latest, name) => (name === 'dist' || name === 'node_modules' ? latest : Math.max(latest, newest(join(path, name)))), 0);
}

function run(what: string, command: string, args: string[], env: Record<string, string> = {}): void {
  console.log(what);
  const { status, stdout, stderr } = spawnSync(join(ROOT, 'node_modules/.bin', command), args, {
    cwd: ROOT,
    env: { ...process.env, ...env },
    encoding: 'utf8',
  });
  if (status === 0) return;
  console.error(stdout, stderr);
  process.exit(1);
}

// `prisma generate` wants a native engine it does not use; any existing file will do.
if (newest(join(ROOT, 'prisma/schema.prisma')) > newest(join(ROOT, 'prisma/client/client.ts')))
  run('Making the database client…', 'prisma', ['generate', '--config', 'prisma/prisma.config.ts'], { PRISMA_SCHEMA_ENGINE_BINARY: process.execPath });

const pageSources = ['web/src', 'web/index.html', 'web/vite.config.ts', 'server/core', 'package-lock.json'].map((path) => newest(join(ROOT, path)));
if (Math.max(...pageSources) > newest(join(ROOT, 'web/dist/index.html'))) run('Building the page…', 'vite', ['build', '--config', 'web/vite.config.ts', '--logLevel', 'warn']);
