// `npm run bench [name…]`: one JSON object a line. Every figure is a ratio against a named reference of the same run,
// or a time that an issue sets a bar for; `ok` is null where there is no bar.
import { readdirSync } from 'node:fs';
import startCluster from '../fixtures/cluster.ts';

export interface Figure {
  figure: string;
  value: number;
  unit: string;
  bar: number | null;
  ok: boolean | null;
}

const wanted = process.argv.slice(2);
const files = readdirSync(import.meta.dirname).filter((file) => file.endsWith('.ts') && file !== 'run.ts');
const stop = await startCluster();
let failed = false;
try {
  for (const file of files.filter((name) => wanted.length === 0 || wanted.includes(name.replace(/\.ts$/, '')))) {
    const { default: bench } = (await import(`./${file}`)) as { default: () => Promise<Figure[]> };
    for (const figure of await bench()) {
      console.log(JSON.stringify(figure));
      failed ||= figure.ok === false;
    }
  }
} finally {
  await stop();
}
process.exit(failed ? 1 : 0);
