import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { Refusal } from '../platform/errors.ts';
import { guarded, type App } from '../platform/http.ts';
import { enqueue } from '../platform/jobs.ts';
import { write } from '../platform/write.ts';
import { Card, CardCount, NewCard, NewManifest, Proof } from './contract.ts';
import { addManifest, QUEUE, readGiven } from './give.ts';
import { MANIFEST_BYTES } from './manifest.ts';
import { proofOf } from './proof.ts';
import { cardOf, countFiles, ensureCard, listCards, lockManifest } from './store.ts';

export { fileArrived, looksLikeManifest, readFound, type GivenManifest } from './give.ts';
export { Entries, MANIFEST_BYTES, readManifest, type Entry } from './manifest.ts';
export { ensureCard, listCards } from './store.ts';
export { startManifestWorker } from './work.ts';

const InFilm = Type.Object({ film: Type.String() });
const OneCard = Type.Object({ film: Type.String(), card: Type.String() });
const OneManifest = Type.Object({ film: Type.String(), card: Type.String(), manifest: Type.String() });
/** A text grows when it is written in JSON. */
const BODY_BYTES = 2 * MANIFEST_BYTES;

/** Cards, the lists made of them at the source, and the proof that all of a card arrived. */
export const cards = guarded('cards', async (app: App) => {
  const { db, jobs } = app;

  app.get('/api/films/:film/cards', { config: { permission: 'clips.read' }, schema: { summary: 'The cards of the film', params: InFilm, response: { 200: Type.Array(Card) } } }, async (request) =>
    listCards(db, memberOf(request).filmId),
  );

  app.get(
    '/api/films/:film/cards/counts',
    { config: { permission: 'clips.read' }, schema: { summary: 'How many files of each card are here; a card of which nothing was sent is left out', params: InFilm, response: { 200: Type.Array(CardCount) } } },
    async (request) => countFiles(db, memberOf(request).filmId),
  );

  app.post(
    '/api/films/:film/cards',
    { config: { permission: 'clips.upload' }, schema: { summary: 'The card of a name, made when there is none', params: InFilm, body: NewCard, response: { 200: Card } } },
    async (request) => {
      const { filmId } = memberOf(request);
      const name = request.body.name.trim();
      if (name === '') throw new Refusal('bad-input', 'A card has a name.', { fields: [{ field: 'name', why: 'is empty' }] });
      const known = await db.card.findUnique({ where: { filmId_name: { filmId, name } }, select: { id: true } });
      if (known) return cardOf(db, filmId, known.id);
      return write(db, whoOf(request), filmId, async (tx) => {
        const { card } = await ensureCard(tx, filmId, name);
        return { kind: 'card.made', subject: card.id, rows: { cards: [card] }, result: card };
      });
    },
  );

  app.get(
    '/api/films/:film/cards/:card/proof',
    { config: { permission: 'clips.read' }, schema: { summary: 'The card file by file: its lists against what arrived', params: OneCard, response: { 200: Proof } } },
    async (request) => proofOf(db, await cardOf(db, memberOf(request).filmId, request.params.card), memberOf(request).filmId),
  );

  app.post(
    '/api/films/:film/cards/:card/manifests',
    {
      bodyLimit: BODY_BYTES,
      config: { permission: 'clips.upload' },
      schema: {
        summary: 'Give a list of files and checksums made at the source',
        description: 'ASC MHL, or a list as xxhsum, md5sum, sha1sum, sha256sum or sha512sum write it (also with --tag). The very same list given twice counts once.',
        params: OneCard,
        body: NewManifest,
        response: { 200: Card },
      },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const { name, text } = request.body;
      const given = readGiven({ name: name.trim(), bytes: Buffer.from(text), path: null, givenById: userId });
      const card = await cardOf(db, filmId, request.params.card);
      if (await db.manifest.findFirst({ where: { cardId: card.id, sha256: given.sha256, removedAt: null }, select: { id: true } })) return card;
      return write(db, whoOf(request), filmId, async (tx) => {
        await addManifest(tx, jobs, { filmId, cardId: card.id }, given);
        const changed = await cardOf(tx, filmId, card.id);
        return { kind: 'manifest.given', subject: card.id, rows: { cards: [changed] }, result: changed };
      });
    },
  );

  app.delete(
    '/api/films/:film/cards/:card/manifests/:manifest',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Put a list aside; it can be brought back', params: OneManifest, response: { 200: Card } } },
    async (request) => changeManifest(request, 'manifest.removed'),
  );

  app.post(
    '/api/films/:film/cards/:card/manifests/:manifest/restore',
    { config: { permission: 'clips.edit' }, schema: { summary: 'Bring a list back that was put aside', params: OneManifest, response: { 200: Card } } },
    async (request) => changeManifest(request, 'manifest.restored'),
  );

  type Request = Parameters<typeof memberOf>[0] & { params: { card: string; manifest: string } };

  const changeManifest = async (request: Request, kind: 'manifest.removed' | 'manifest.restored'): Promise<Card> => {
    const { filmId } = memberOf(request);
    const { card: cardId, manifest: id } = request.params;
    return write(db, whoOf(request), filmId, async (tx) => {
      const row = await lockManifest(tx, id);
      if (row?.filmId !== filmId || row.cardId !== cardId) throw new Refusal('not-found');
      const back = kind === 'manifest.restored' && row.removedAt !== null;
      if (back && (await tx.manifest.count({ where: { cardId, sha256: row.sha256, removedAt: null } }))) throw new Refusal('same-list');
      // Files may have come while it lay aside.
      const again = back && row.asksMore && row.state !== 'failed';
      await tx.manifest.update({ where: { id }, data: { removedAt: kind === 'manifest.restored' ? null : (row.removedAt ?? new Date()), ...(again ? { state: 'received' } : {}) } });
      if (again) await enqueue(jobs, tx, QUEUE, { manifestId: id });
      const changed = await cardOf(tx, filmId, cardId);
      return { kind, subject: cardId, rows: { cards: [changed] }, result: changed };
    });
  };
});
