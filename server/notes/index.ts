import { Type } from 'typebox';
import { Prisma } from '#prisma';
import { memberOf, whoOf } from '../access/index.ts';
import { checkFreeId } from '../platform/client-id.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { theRow, write } from '../platform/write.ts';
import { NewNote, Note, NoteChange } from './contract.ts';
import { toNote } from './rows.ts';
import { checkAuthor, checkDrawing, checkMayRemove, checkMayWriteOn } from './rules.ts';
import { checkAddressed, lockNote, placeNote } from './store.ts';

export { listNotesOfClips, listNotesOfSlots } from './store.ts';
export { toNote } from './rows.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneNote = Type.Object({ film: Type.String(), note: Type.String() });

/** Notes on frames, spans, offers and slots, with replies below them. */
export const notes = guarded('notes', async (app: App) => {
  const { db } = app;
  const permission = { config: { permission: 'notes.write' } } as const;

  app.post(
    '/api/films/:film/notes',
    { ...permission, schema: { summary: 'Write a note, or answer one', params: InFilm, body: NewNote, response: { 201: Note } } },
    async (request, reply) => {
      const { filmId, userId, can } = memberOf(request);
      const { id, text, drawing, addressed = [] } = request.body;
      const written = await write(db, whoOf(request), filmId, async (tx) => {
        const standing = await placeNote(tx, filmId, request.body);
        checkMayWriteOn(standing, can);
        checkDrawing(drawing, standing);
        await checkFreeId(id, (one) => tx.note.count({ where: { id: one } }));
        const row = await tx.note.create({
          data: { ...(id && { id }), ...standing, filmId, text, ...(drawing ? { drawing } : {}), addressed: await checkAddressed(tx, filmId, addressed), authorId: userId },
        });
        const result = toNote(row);
        return { kind: 'note.written', subject: result.id, rows: { notes: [result] }, result };
      }, theRow('notes'));
      return reply.status(201).send(written);
    },
  );

  app.patch(
    '/api/films/:film/notes/:note',
    { ...permission, schema: { summary: 'Change the words, the drawing or who is addressed', params: OneNote, body: NoteChange, response: { 200: Note } } },
    async (request) => {
      const { filmId, userId, can } = memberOf(request);
      const { text, drawing, addressed } = request.body;
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockNote(tx, filmId, request.params.note);
        checkMayWriteOn(before, can);
        checkAuthor(before, userId);
        if (before.removedAt) throw new Refusal('removed-meanwhile');
        checkDrawing(drawing, before);
        const row = await tx.note.update({
          where: { id: before.id },
          data: {
            ...(text === undefined ? {} : { text }),
            ...(drawing === undefined ? {} : { drawing: drawing ?? Prisma.DbNull }),
            ...(addressed === undefined ? {} : { addressed: await checkAddressed(tx, filmId, addressed) }),
            editedAt: new Date(),
          },
        });
        const result = toNote(row);
        return { kind: 'note.changed', subject: result.id, rows: { notes: [result] }, result };
      }, theRow('notes'));
    },
  );

  app.delete(
    '/api/films/:film/notes/:note',
    { ...permission, schema: { summary: 'Remove a note', params: OneNote, response: { 200: Note } } },
    async (request) => {
      const { filmId, userId, can } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockNote(tx, filmId, request.params.note);
        checkMayRemove(before, userId, can);
        if (before.removedAt) throw new Refusal('removed-meanwhile');
        const result = toNote(await tx.note.update({ where: { id: before.id }, data: { removedAt: new Date() } }));
        return { kind: 'note.removed', subject: result.id, rows: { notes: [result] }, result };
      }, theRow('notes'));
    },
  );

  app.post(
    '/api/films/:film/notes/:note/restore',
    { ...permission, schema: { summary: 'Bring a removed note back', params: OneNote, response: { 200: Note } } },
    async (request) => {
      const { filmId, userId, can } = memberOf(request);
      return write(db, whoOf(request), filmId, async (tx) => {
        const before = await lockNote(tx, filmId, request.params.note);
        checkMayRemove(before, userId, can);
        const result = toNote(await tx.note.update({ where: { id: before.id }, data: { removedAt: null } }));
        return { kind: 'note.restored', subject: result.id, rows: { notes: [result] }, result };
      }, theRow('notes'));
    },
  );

  for (const step of ['settle', 'reopen'] as const) {
    app.post(
      `/api/films/:film/notes/:note/${step}`,
      {
        config: { permission: 'notes.settle' },
        schema: { summary: step === 'settle' ? 'Settle a note, with its replies' : 'Open a settled note again', params: OneNote, response: { 200: Note } },
      },
      async (request) => {
        const { filmId, userId } = memberOf(request);
        return write(db, whoOf(request), filmId, async (tx) => {
          const before = await lockNote(tx, filmId, request.params.note);
          if (before.removedAt) throw new Refusal('removed-meanwhile');
          if (before.parentId) throw new Refusal('bad-input', 'A reply is settled with the note it answers; name that one.', { fields: [{ field: 'note', why: 'is a reply' }] });
          const settled = step === 'settle' ? { settledAt: new Date(), settledById: userId } : { settledAt: null, settledById: null };
          const result = toNote(await tx.note.update({ where: { id: before.id }, data: settled }));
          return { kind: step === 'settle' ? 'note.settled' : 'note.reopened', subject: result.id, rows: { notes: [result] }, result };
        }, theRow('notes'));
      },
    );
  }
});
