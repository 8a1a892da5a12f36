import { listMembers, type Membership } from '../access/index.ts';
import { listCards } from '../cards/index.ts';
import { listFamilies } from '../families/index.ts';
import { toFilm } from '../films/index.ts';
import { listClips, seenOf } from '../footage/index.ts';
import { listUploads } from '../intake/index.ts';
import { listMarks, listTies, listTracks } from '../music/index.ts';
import { listNotesOfClips, listNotesOfSlots } from '../notes/index.ts';
import { listOffers } from '../offers/index.ts';
import { listItems } from '../outline/index.ts';
import { listSelects } from '../selects/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { ClipsWhole, Progress, Snapshot, TableName } from './contract.ts';
import { visibleRows } from './visible.ts';

const ONE_MOMENT = { isolationLevel: 'RepeatableRead' } as const;

/**
 * What every page of a film needs, as of one moment, cut to what the member may see. Of the clips it has those on offer,
 * with all that is on them; a page that looks at others asks for them (`clipsWhole`).
 */
export async function snapshotOf(db: Db, member: Membership, progress: Progress[]): Promise<Snapshot> {
  const { filmId, userId, role, can } = member;
  const whole = await db.$transaction(async (tx) => {
    const film = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
    const offers = await listOffers(tx, filmId);
    const offered = [...new Set(offers.map(({ clipId }) => clipId))];
    const onOffer = await rowsOfClips(tx, filmId, offered);
    const rows: Snapshot['rows'] = {
      film: [toFilm(film)],
      members: await listMembers(tx, filmId),
      items: await listItems(tx, filmId),
      uploads: await listUploads(tx, filmId, ['arriving', 'refused']),
      cards: await listCards(tx, filmId),
      ...onOffer,
      notes: [...(await listNotesOfSlots(tx, filmId)), ...onOffer.notes],
      offers,
      tracks: await listTracks(tx, filmId),
      marks: await listMarks(tx, filmId),
      ties: await listTies(tx, filmId),
      families: await listFamilies(tx, filmId),
    };
    return { seq: film.lastSeq, offered, rows, seen: await seenOfClips(tx, member, offered) };
  }, ONE_MOMENT);
  const nothing = Object.fromEntries(Object.keys(whole.rows).map((table) => [table, []])) as unknown as Record<TableName, never[]>;
  return {
    seq: whole.seq,
    mine: { userId, role, can: [...can] },
    rows: { ...nothing, ...visibleRows(whole.rows, can, new Set(whole.offered)) },
    seen: whole.seen,
    progress: can.has('clips.read') ? progress : [],
  };
}

/** Clips with all that is on them, as of one moment, cut as a snapshot is; those the member may not see, or that are not there, are left out. */
export async function clipsWhole(db: Db, member: Membership, ids: readonly string[]): Promise<ClipsWhole> {
  const { filmId, can } = member;
  const whole = await db.$transaction(async (tx) => {
    const film = await tx.film.findUniqueOrThrow({ where: { id: filmId }, select: { lastSeq: true } });
    const offers = await tx.offer.findMany({ where: { filmId, clipId: { in: [...ids] }, removedAt: null }, select: { clipId: true } });
    return { seq: film.lastSeq, offered: new Set(offers.map(({ clipId }) => clipId)), rows: await rowsOfClips(tx, filmId, ids), seen: await seenOfClips(tx, member, ids) };
  }, ONE_MOMENT);
  return { seq: whole.seq, rows: { clips: [], selects: [], notes: [], ...visibleRows(whole.rows, can, whole.offered) }, seen: whole.seen };
}

const seenOfClips = (tx: Tx, { userId, can }: Membership, ids: readonly string[]) => (can.has('clips.read') ? seenOf(tx, ids, userId) : Promise.resolve([]));

async function rowsOfClips(tx: Tx, filmId: string, asked: readonly string[]): Promise<ClipsWhole['rows']> {
  const clips = await listClips(tx, filmId, asked);
  const ids = clips.map(({ id }) => id);
  return { clips, selects: await listSelects(tx, filmId, ids), notes: await listNotesOfClips(tx, filmId, ids) };
}
