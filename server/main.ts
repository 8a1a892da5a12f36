import { buildApp } from './app.ts';
import { startManifestWorker } from './cards/index.ts';
import { makeDemo } from './demo/index.ts';
import { sweepIntake } from './intake/index.ts';
import { readConfig } from './platform/config.ts';
import { openGround } from './platform/ground.ts';
import { startTrackWorker } from './music/index.ts';
import { announceWorker } from './platform/worker-presence.ts';
import { startStringOutWorker } from './stringout/index.ts';
import { startProxyWorker } from './proxies/index.ts';

const EXIT_WITHIN_MS = 20_000;

/** Starts what ROLE says; every step that is begun is ended in reverse on SIGTERM or SIGINT. */
async function main(): Promise<void> {
  const config = readConfig(process.env);
  const ends: (() => Promise<unknown>)[] = [];
  const ending = new AbortController();

  const end = async (code: number): Promise<never> => {
    if (ending.signal.aborted) return new Promise(() => {});
    ending.abort();
    setTimeout(() => process.exit(1), EXIT_WITHIN_MS).unref();
    for (const step of ends.reverse()) await step().catch((error: unknown) => console.error(error));
    process.exit(code);
  };
  process.on('SIGTERM', () => void end(0));
  process.on('SIGINT', () => void end(0));

  try {
    const { ground, close } = await openGround(config, { onError: (error) => console.error(error) });
    ends.push(close);
    let origin = '';
    if (config.role !== 'worker') {
      await sweepIntake(ground);
      const app = await buildApp(ground);
      ends.push(() => app.close());
      await app.listen({ host: config.host, port: config.port });
      const { port } = app.server.address() as { port: number };
      origin = `http://127.0.0.1:${port}`;
      console.log(`\nRushlight is at ${config.publicUrl ?? `http://localhost:${port}`}\n`);
      if (config.host === '127.0.0.1') console.log('Only this machine can reach it; start with HOST=0.0.0.0 to let the crew in.\n');
    }
    if (config.role !== 'api') {
      const worker = await startProxyWorker(ground);
      ends.push(() => worker.stop());
      const tracks = await startTrackWorker(ground);
      ends.push(() => tracks.stop());
      const lists = await startManifestWorker(ground);
      ends.push(() => lists.stop());
      const stringOuts = await startStringOutWorker(ground);
      ends.push(() => stringOuts.stop());
      ends.push(await announceWorker(ground.databaseUrl));
    }
    if (process.argv.includes('--demo') && config.role === 'all') {
      // A film that cannot be made up is no reason to end what people work with.
      await makeDemo(ground, origin, ending.signal).catch((error: unknown) => ending.signal.aborted || console.error('The invented film could not be finished:', error));
    }
  } catch (error) {
    console.error(error instanceof Error && 'code' in error ? error.message : error);
    await end(1);
  }
}

await main();
