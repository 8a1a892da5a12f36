import type { Said } from '#core/slot-state.ts';
import type { Tx } from '../platform/db.ts';

/** A slot where it stands in the outline: `sequenceId` is the top-level part it is in. */
export interface SlotRow {
  id: string;
  name: string;
  sequenceId: string;
  createdAt: Date;
}

/** The slots of a film in outline order, with the sequence each is in. */
export async function readSlots(tx: Tx, filmId: string): Promise<SlotRow[]> {
  // Siblings are ordered by (order_key, id) by code unit, which is the "C" collation for the ASCII that both are.
  return tx.$queryRaw<SlotRow[]>`
    WITH RECURSIVE tree AS (
      SELECT id, kind, name, created_at, id AS sequence_id, ARRAY[order_key, id] AS path
      FROM item WHERE film_id = ${filmId} AND parent_id IS NULL AND removed_at IS NULL
      UNION ALL
      SELECT item.id, item.kind, item.name, item.created_at, tree.sequence_id, tree.path || item.order_key || item.id
      FROM item JOIN tree ON item.parent_id = tree.id
      WHERE item.removed_at IS NULL
    )
    SELECT id, name, sequence_id AS "sequenceId", created_at AS "createdAt" FROM tree WHERE kind = 'slot' ORDER BY path COLLATE "C"`;
}

/** An offer with what the ledger says of it. */
export interface OfferLine {
  id: string;
  slotId: string;
  clipId: string;
  clipName: string;
  verdict: Said;
  in: number;
  outExclusive: number;
  rate: { num: number; den: number };
  offeredAt: Date;
}

/** The offers of a film, oldest first. */
export async function readOffers(tx: Tx, filmId: string): Promise<OfferLine[]> {
  const rows = await tx.offer.findMany({ where: { filmId, removedAt: null }, include: { clip: true }, orderBy: [{ offeredAt: 'asc' }, { id: 'asc' }] });
  return rows.map(({ clip, ...offer }) => ({ ...offer, clipName: clip.name, rate: { num: clip.rateNum!, den: clip.rateDen! } }));
}

/** What of the rushes nobody has watched. */
export interface Unseen {
  clips: number;
  unseenClips: number;
  unseenSeconds: number;
  /** Where watching on would begin: the first unwatched frame of the clip received first. */
  next: { clipId: string; frame: number; since: Date } | null;
}

/** Counts, over everybody's seen stretches together. A clip without frames yet counts as unseen and adds no seconds; one put aside has nothing left to see. */
export async function readUnseen(tx: Tx, filmId: string): Promise<Unseen> {
  const [row] = await tx.$queryRaw<{ clips: number; unseenClips: number; unseenSeconds: number; clipId: string | null; frame: number | null; since: Date | null }[]>`
    WITH watched AS (
      SELECT seen.clip_id, range_agg(seen.ranges) AS ranges
      FROM seen JOIN clip ON clip.id = seen.clip_id WHERE clip.film_id = ${filmId} GROUP BY seen.clip_id
    ), gaps AS (
      SELECT clip.id, clip.received_at, clip.frames, clip.rate_num, clip.rate_den,
        CASE WHEN clip.aside_at IS NULL THEN int4multirange(int4range(0, clip.frames)) - coalesce(watched.ranges, '{}') ELSE '{}' END AS ranges
      FROM clip LEFT JOIN watched ON watched.clip_id = clip.id
      WHERE clip.film_id = ${filmId} AND clip.removed_at IS NULL
    ), unseen AS (
      SELECT gaps.*, (SELECT coalesce(sum(upper(gap) - lower(gap)), 0) FROM unnest(gaps.ranges) AS gap)::float8 AS missing FROM gaps
    ), first AS (
      SELECT id, lower(ranges) AS frame, received_at FROM unseen WHERE frames > 0 AND missing > 0 ORDER BY received_at, id LIMIT 1
    )
    SELECT count(*)::int AS clips,
      count(*) FILTER (WHERE unseen.frames IS NULL OR missing > 0)::int AS "unseenClips",
      coalesce(sum(missing * rate_den / rate_num) FILTER (WHERE unseen.frames > 0), 0)::float8 AS "unseenSeconds",
      max(first.id) AS "clipId", max(first.frame)::int AS frame, max(first.received_at) AS since
    FROM unseen LEFT JOIN first ON true`;
  const { clipId, frame, since, ...counts } = row!;
  return { ...counts, next: clipId === null ? null : { clipId, frame: frame!, since: since! } };
}

/** An open note, not a reply, with the slot it speaks of, if of one. */
export interface NoteLine {
  id: string;
  slotId: string | null;
}

/** The open notes of a film; a note on an offer speaks of the offer's slot. */
export async function readOpenNotes(tx: Tx, filmId: string): Promise<NoteLine[]> {
  const rows = await tx.note.findMany({
    where: { filmId, removedAt: null, settledAt: null, parentId: null },
    select: { id: true, slotId: true, offer: { select: { slotId: true, removedAt: true } } },
  });
  return rows.map(({ id, slotId, offer }) => ({ id, slotId: slotId ?? (offer && !offer.removedAt ? offer.slotId : null) }));
}

export interface AddressedNote {
  id: string;
  clipId: string | null;
  offerId: string | null;
  slotId: string | null;
  frame: number | null;
  text: string;
  author: string;
  writtenAt: Date;
}

/** Notes and replies that name a person and are open, oldest first; a reply is open as long as its note is. */
export async function readAddressed(tx: Tx, filmId: string, userId: string): Promise<AddressedNote[]> {
  return tx.$queryRaw<AddressedNote[]>`
    SELECT note.id, note.clip_id AS "clipId", note.offer_id AS "offerId", coalesce(note.slot_id, offer.slot_id) AS "slotId",
      note.in AS frame, note.text, coalesce(author.name, 'Somebody who has left') AS author, note.written_at AS "writtenAt"
    FROM note
    LEFT JOIN note AS root ON root.id = note.parent_id
    LEFT JOIN offer ON offer.id = note.offer_id
    LEFT JOIN "user" AS author ON author.id = note.author_id
    WHERE note.film_id = ${filmId} AND ${userId} = ANY(note.addressed) AND note.removed_at IS NULL AND note.author_id <> ${userId}
      AND coalesce(root.settled_at, note.settled_at) IS NULL AND root.removed_at IS NULL
    ORDER BY note.written_at, note.id`;
}
