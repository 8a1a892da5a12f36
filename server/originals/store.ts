import type { OriginalChoice as ChoiceRow, OriginalList as ListRow } from '#prisma';
import type { Rate } from '#core/rate.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { OriginalList, Originals } from './contract.ts';
import type { Listed } from './lists.ts';
import { factsOf, merge, type OfList, type Original } from './merge.ts';
import { match, type Choice, type Facts, type Start } from './rules.ts';

/** Makes everything that changes originals of a film come one after the other, until the transaction ends. */
export async function holdOriginals(tx: Tx, filmId: string): Promise<void> {
  await tx.$queryRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`originals:${filmId}`}, 0))::text`;
}

export const toOfList = ({ card, entries }: Pick<ListRow, 'card' | 'entries'>): OfList => ({ card, entries: entries as unknown as Listed[] });

export const toList = (row: ListRow): OriginalList => ({ id: row.id, card: row.card, name: row.name, files: (row.entries as unknown[]).length, givenById: row.givenById, givenAt: row.givenAt.toISOString() });

/** The lists of originals that count, in the order they were given. */
export const listsOf = (tx: Tx | Db, filmId: string): Promise<ListRow[]> => tx.originalList.findMany({ where: { filmId, removedAt: null }, orderBy: [{ givenAt: 'asc' }, { id: 'asc' }] });

async function clipFacts(tx: Tx | Db, filmId: string): Promise<Facts[]> {
  const rows = await tx.$queryRaw<{ id: string; name: string; card: string; reel: string | null; num: number | null; den: number | null; frames: number | null; start: number; drop: boolean; labelled: boolean; xxh64: string }[]>`
    SELECT id, name, card, reel, rate_num AS num, rate_den AS den, frames, start_frame AS start, drop_frame AS drop, coalesce(probe->>'startTimecode', '') <> '' AS labelled, xxh64
    FROM clip WHERE film_id = ${filmId} AND removed_at IS NULL ORDER BY id`;
  return rows.map((row) => {
    const rate: Rate | null = row.num && row.den ? { num: row.num, den: row.den } : null;
    // A clip without a label is counted from 0, which says nothing of where its original starts.
    const start: Start | null = row.labelled ? { frame: row.start, drop: row.drop } : null;
    return { id: row.id, name: row.name, card: row.card || null, reel: row.reel, rate, start, length: row.frames === null ? null : { frames: row.frames }, xxh64: row.xxh64 };
  });
}

function choicesOf(row: ChoiceRow, idOf: (known: string) => string): Choice[] {
  const apart = row.apart.map((original): Choice => ({ clipId: row.clipId, kind: 'apart', originalId: idOf(original) }));
  if (row.own) return [...apart, { clipId: row.clipId, kind: 'own', originalId: null }];
  return row.joined === null ? apart : [...apart, { clipId: row.clipId, kind: 'joined', originalId: idOf(row.joined) }];
}

/**
 * Clips, originals and what belongs together, as of now.
 * @param card only its clips and lists, and the originals that they may be or that lie on it; everything is compared with everything all the same
 */
export async function originalsOf(tx: Tx | Db, filmId: string, card: string | null): Promise<Originals> {
  const [lists, clips, choices] = [await listsOf(tx, filmId), await clipFacts(tx, filmId), await tx.originalChoice.findMany({ where: { filmId }, orderBy: { clipId: 'asc' } })];
  const { originals } = merge(lists.map(toOfList));
  const known = new Map(originals.flatMap(({ ids }) => ids.map((id) => [id, ids[0]!] as const)));
  const { settled, open, clipsWithout, originalsWithout } = match(clips, originals.map(factsOf), choices.flatMap((row) => choicesOf(row, (id) => known.get(id) ?? id)));
  const asked = new Map(clips.filter((clip) => card === null || clip.card === card).map((clip) => [clip.id, clip]));
  const isAsked = ({ clipId }: { clipId: string }): boolean => asked.has(clipId);
  const joined = settled.flatMap((one) => (one.state === 'joined' && isAsked(one) ? one : []));
  const shown = { open: open.filter(isAsked), clipsWithout: clipsWithout.filter((clipId) => asked.has(clipId)) };
  const spoken = new Set([...joined.map(({ originalId }) => originalId), ...shown.open.flatMap(({ candidates }) => candidates.map(({ originalId }) => originalId))]);
  const there = originals.filter((one) => card === null || one.card === card || one.ids.some((id) => spoken.has(id)));
  const thereIds = new Set(there.map(({ ids }) => ids[0]!));
  return {
    clips: [...asked.values()].map(({ id, name, reel, rate, start, length }) => ({ id, name: name ?? '', reel, rate, start, frames: length && 'frames' in length ? length.frames : null })),
    lists: lists.map(toList).filter((list) => card === null || list.card === card),
    originals: there.map(({ ids, card: of, listed }: Original) => ({ id: ids[0]!, card: of, ...listed })),
    joined,
    own: settled.flatMap((one) => (one.state === 'own' && isAsked(one) ? { clipId: one.clipId, by: one.by } : [])),
    ...shown,
    originalsWithout: originalsWithout.filter((id) => thereIds.has(id)),
    choices: choices.filter(isAsked).map(({ clipId, joined: to, own, apart }) => ({ clipId, joined: to, own, apart })),
  };
}
