import { Type } from 'typebox';
import { budgetOf } from '#core/budget.ts';
import { outlineOrder } from '#core/outline.ts';
import { memberOf } from '../access/index.ts';
import { listItems } from '../outline/index.ts';
import { guarded, type App } from '../platform/http.ts';
import { Ledger } from './contract.ts';
import { countSlots, sequenceLines } from './lines.ts';
import { readAddressed, readOffers, readOpenNotes, readSlots, readUnseen } from './store.ts';
import { waitingOn } from './waiting.ts';

/** The ledger: where the work stands, and what waits on whom. It only reads. */
export const ledger = guarded('ledger', async (app: App) => {
  app.get(
    '/api/films/:film/ledger',
    { config: { permission: 'ledger.read' }, schema: { summary: 'Where the work stands', params: Type.Object({ film: Type.String() }), response: { 200: Ledger } } },
    async (request): Promise<Ledger> => {
      const { filmId, userId, can } = memberOf(request);
      // One snapshot, so that the lines and the whole cannot disagree.
      return app.db.$transaction(
        async (tx) => {
          const film = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
          const filmRate = { num: film.rateNum, den: film.rateDen };
          const lines = outlineOrder(await listItems(tx, filmId));
          const budget = budgetOf(lines, film.targetFrames, filmRate);
          const sequences = lines.filter(({ depth, row }) => depth === 0 && row.kind === 'part').map(({ row }) => ({ ...row, plannedFrames: budget.lines.get(row.id)!.frames }));
          const slots = await readSlots(tx, filmId);
          const offers = await readOffers(tx, filmId);
          const offersOf = Map.groupBy(offers, ({ slotId }) => slotId);
          const notes = await readOpenNotes(tx, filmId);
          const unseen = await readUnseen(tx, filmId);
          const addressed = await readAddressed(tx, filmId, userId);
          const failedClips = await tx.clip.findMany({ where: { filmId, state: 'failed', uploadedById: userId, removedAt: null }, orderBy: { receivedAt: 'asc' } });
          const { clips, unseenClips, unseenSeconds } = unseen;
          return {
            sequences: sequenceLines(sequences, { slots, offersOf, notes, filmRate }),
            whole: { ...countSlots(slots, offersOf, filmRate), targetFrames: film.targetFrames, clips, unseenClips, unseenSeconds, openNotes: notes.length },
            waitingOnMe: waitingOn(can, { slots, offers, offersOf, addressed, failedClips, unseen }),
          };
        },
        { isolationLevel: 'RepeatableRead' },
      );
    },
  );
});
