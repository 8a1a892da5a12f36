import type { Rate } from '#core/rate.ts';
import type { Db, Tx } from '../platform/db.ts';
import { guarded, type App } from '../platform/http.ts';
import { originalRoutes } from './routes.ts';
import type { Length, Start } from './rules.ts';
import { originalsOf } from './store.ts';

/** Camera originals: lists of them, and which clip was made from which. */
export const originals = guarded('originals', async (app: App) => originalRoutes(app));

/** The camera original of a clip, as far as it is known. */
export interface OriginalOf {
  name: string;
  path: string;
  card: string;
  reel: string | null;
  start: Start | null;
  rate: Rate | null;
  length: Length | null;
  bytes: number | null;
  xxh64: string | null;
  /** `originalIn = clipIn + offset`, in frames; null where a person joined them and nothing tells. */
  offset: number | null;
}

/**
 * The camera originals of a film's clips, by id of the clip: `own` where the clip's file is the original itself. A clip
 * that is not in it is not matched.
 */
export async function originalOf(tx: Tx | Db, filmId: string): Promise<Map<string, OriginalOf | 'own'>> {
  const { originals: all, joined, own } = await originalsOf(tx, filmId, null);
  const byId = new Map(all.map((original) => [original.id, original]));
  const found = new Map<string, OriginalOf | 'own'>(own.map(({ clipId }) => [clipId, 'own']));
  for (const { clipId, originalId, offset } of joined) {
    const { path, card, reel, start, rate, length, bytes, xxh64 } = byId.get(originalId)!;
    found.set(clipId, { name: path.split(/[/\\]/).at(-1)!, path, card, reel, start, rate, length, bytes, xxh64, offset });
  }
  return found;
}
