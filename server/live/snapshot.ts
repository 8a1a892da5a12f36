import { listMembers, type Membership } from '../access/index.ts';
import { listCards } from '../cards/index.ts';
import { listFamilies } from '../families/index.ts';
import { toFilm } from '../films/index.ts';
import { listClips, listSeen } from '../footage/index.ts';
import { listUploads } from '../intake/index.ts';
import { listMarks, listTies, listTracks } from '../music/index.ts';
import { listNotes } from '../notes/index.ts';
import { listOffers } from '../offers/index.ts';
import { listItems } from '../outline/index.ts';
import { listSelects } from '../selects/index.ts';
import type { Db } from '../platform/db.ts';
import type { Progress, Snapshot, TableName } from './contract.ts';
import { visibleRows } from './visible.ts';

/** Everything a page needs of a film, as of one moment, cut to what the member may see. */
export async function snapshotOf(db: Db, member: Membership, progress: Progress[]): Promise<Snapshot> {
  const { filmId, userId, role, can } = member;
  const whole = await db.$transaction(
    async (tx) => {
      const film = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
      const rows: Snapshot['rows'] = {
        film: [toFilm(film)],
        members: await listMembers(tx, filmId),
        items: await listItems(tx, filmId),
        clips: await listClips(tx, filmId),
        uploads: await listUploads(tx, filmId),
        cards: await listCards(tx, filmId),
        selects: await listSelects(tx, filmId),
        offers: await listOffers(tx, filmId),
        notes: await listNotes(tx, filmId),
        tracks: await listTracks(tx, filmId),
        marks: await listMarks(tx, filmId),
        ties: await listTies(tx, filmId),
        families: await listFamilies(tx, filmId),
      };
      return { seq: film.lastSeq, rows, seen: can.has('clips.read') ? await listSeen(tx, filmId, userId) : [] };
    },
    { isolationLevel: 'RepeatableRead' },
  );
  const offered = new Set(whole.rows.offers.map((offer) => offer.clipId));
  const nothing = Object.fromEntries(Object.keys(whole.rows).map((table) => [table, []])) as unknown as Record<TableName, never[]>;
  return {
    seq: whole.seq,
    mine: { userId, role, can: [...can] },
    rows: { ...nothing, ...visibleRows(whole.rows, can, offered) },
    seen: whole.seen,
    progress: can.has('clips.read') ? progress : [],
  };
}
