#!/usr/bin/env node
// The sender: sends a folder from a machine without a browser. See options.ts for how it is used and what it ends with.
import { homedir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline/promises';
import { Writable } from 'node:stream';
import { readOptions, Stop, USAGE } from './options.ts';
import { run } from './run.ts';
import { ServerRefusal, type Credentials } from './server.ts';

async function credentials(env: NodeJS.ProcessEnv): Promise<Credentials> {
  const email = env['RUSHLIGHT_EMAIL'] ?? (await question('E-mail: ', false));
  return { email, password: env['RUSHLIGHT_PASSWORD'] ?? (await question('Password: ', true)) };
}

/** Asks at the terminal; what is secret is not shown. @throws Stop 3 when there is none. */
async function question(words: string, secret: boolean): Promise<string> {
  if (!process.stdin.isTTY) throw new Stop(3, 'There is no terminal to ask at: set RUSHLIGHT_EMAIL and RUSHLIGHT_PASSWORD.');
  const silent = new Writable({ write: (_chunk, _encoding, done) => done() });
  process.stderr.write(secret ? words : '');
  const asking = createInterface({ input: process.stdin, output: secret ? silent : process.stderr, terminal: true });
  try {
    return (await asking.question(secret ? '' : words)).trim();
  } finally {
    asking.close();
    if (secret) process.stderr.write('\n');
  }
}

async function main(): Promise<number> {
  const options = readOptions(process.argv.slice(2), process.env);
  if (!options) {
    process.stdout.write(USAGE);
    return 0;
  }
  return run(options, await credentials(process.env), { out: process.stdout, cacheDir: process.env['XDG_CACHE_HOME'] || join(homedir(), '.cache') });
}

try {
  process.exitCode = await main();
} catch (error) {
  process.stderr.write(`${(error as Error).message}\n`);
  if (error instanceof Stop && error.exitCode === 2) process.stderr.write('See rushlight-send --help.\n');
  process.exitCode = error instanceof Stop ? error.exitCode : error instanceof ServerRefusal && [401, 403, 404].includes(error.status) ? 3 : 1;
}
