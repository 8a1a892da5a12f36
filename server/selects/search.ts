import { Prisma } from '#prisma';
import { clipHasWord, toClip, wordsIn } from '../footage/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { SelectsFound } from './contract.ts';
import { toSelect } from './rows.ts';

/** A word that begins like this, of the clip or in the label; "circled" finds the circled ones. */
function wordCondition(word: string): Prisma.Sql {
  const query = `${word}:*`;
  return Prisma.sql`(${clipHasWord(query)} OR words_of(s.label) @@ to_tsquery('simple', ${query})${'circled'.startsWith(word) ? Prisma.sql` OR s.circled` : Prisma.empty})`;
}

/**
 * Selects of a film that every word fits, circled ones first, then by when they were made, with their clips.
 * @param text words as a person types them; without any nothing is found
 */
export async function searchSelects(db: Tx | Db, filmId: string, text: string, limit: number): Promise<SelectsFound> {
  const words = wordsIn(text);
  if (words.length === 0) return { total: 0, found: [] };
  const ids = await db.$queryRaw<{ id: string; total: number }[]>`
    SELECT s.id, count(*) OVER ()::int AS total FROM "select" s JOIN clip c ON c.id = s.clip_id
    WHERE s.film_id = ${filmId} AND s.removed_at IS NULL AND c.removed_at IS NULL AND ${Prisma.join(words.map(wordCondition), ' AND ')}
    ORDER BY s.circled DESC, s.id LIMIT ${limit}`;
  const rows = await db.select.findMany({ where: { id: { in: ids.map(({ id }) => id) } }, include: { clip: true } });
  return {
    total: ids[0]?.total ?? 0,
    found: ids.flatMap(({ id }) => {
      const row = rows.find((one) => one.id === id);
      return row ? [{ select: toSelect(row), clip: toClip(row.clip) }] : [];
    }),
  };
}
