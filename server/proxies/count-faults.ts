// Proxies made before faults were counted have their traces all the same.
import { readFile } from 'node:fs/promises';
import { Prisma } from '#prisma';
import { faultFrames } from '#core/faults.ts';
import { TRACES_VERSION, type Traces } from '#core/traces.ts';
import type { Ground } from '../platform/http.ts';
import { TRACES_FILE } from './analysis/index.ts';

const AT_ONCE = 200;

/** Counts the faults of clips whose proxy has traces and which have no count yet. No event: nothing on the wire changes. */
export async function countFaults({ db, storage }: Pick<Ground, 'db' | 'storage'>): Promise<void> {
  for (let after = ''; ; ) {
    const clips = await db.clip.findMany({
      where: { id: { gt: after }, state: 'ready', removedAt: null, proxyVersion: { not: null }, rateNum: { not: null }, faults: { equals: Prisma.DbNull } },
      select: { id: true, proxyVersion: true, rateNum: true, rateDen: true },
      orderBy: { id: 'asc' },
      take: AT_ONCE,
    });
    for (const { id, proxyVersion, rateNum, rateDen } of clips) {
      const traces = await tracesIn(storage.path('proxies', `${id}/${proxyVersion}/${TRACES_FILE}`));
      if (traces) await db.clip.updateMany({ where: { id, proxyVersion }, data: { faults: faultFrames(traces, { num: rateNum!, den: rateDen! }) } });
    }
    const last = clips.at(-1);
    if (!last) return;
    after = last.id;
  }
}

/** Null for a proxy of before there were traces, or with other ones. */
async function tracesIn(file: string): Promise<Traces | null> {
  try {
    const traces = JSON.parse(await readFile(file, 'utf8')) as Traces;
    return traces.version === TRACES_VERSION ? traces : null;
  } catch {
    return null;
  }
}
