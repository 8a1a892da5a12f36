import { createHash } from 'node:crypto';
import type { Prisma } from '#prisma';
import { Type } from 'typebox';
import { memberOf, whoOf } from '../access/index.ts';
import { MANIFEST_BYTES } from '../cards/index.ts';
import { lockClip } from '../footage/index.ts';
import type { Tx } from '../platform/db.ts';
import { Refusal } from '../platform/errors.ts';
import type { App } from '../platform/http.ts';
import { write } from '../platform/write.ts';
import { Choice, NewOriginalList, OriginalList, Originals } from './contract.ts';
import { readOriginals } from './lists.ts';
import { merge, type OfList } from './merge.ts';
import { holdOriginals, listsOf, originalsOf, toList, toOfList } from './store.ts';

const InFilm = Type.Object({ film: Type.String() });
const OfCard = Type.Object({ card: Type.Optional(Type.String({ maxLength: 80 })) }, { additionalProperties: false });
const OneList = Type.Object({ film: Type.String(), list: Type.String() });
const OneClip = Type.Object({ film: Type.String(), clip: Type.String() });
const NOTHING: Choice = { joined: null, own: false, apart: [] };

export function originalRoutes(app: App): void {
  const { db } = app;

  app.get('/api/films/:film/originals', { config: { permission: 'clips.read' }, schema: { summary: 'Camera originals, and which clip was made from which; of one card, or of all', params: InFilm, querystring: OfCard, response: { 200: Originals } } }, async (request) =>
    originalsOf(db, memberOf(request).filmId, request.query.card ?? null),
  );

  app.post(
    '/api/films/:film/originals/lists',
    {
      bodyLimit: 2 * MANIFEST_BYTES,
      config: { permission: 'clips.upload' },
      schema: {
        summary: 'Give a list of the camera originals of a card',
        description: 'A table with a head (RFC 4180; name, reel, start timecode, rate, frames or duration, size, xxh64), what ffprobe -show_format -show_streams -of json says of a file, ASC MHL, or a list of checksums.',
        params: InFilm,
        body: NewOriginalList,
        response: { 200: OriginalList },
      },
    },
    async (request) => {
      const { filmId, userId } = memberOf(request);
      const [card, name] = [request.body.card.trim(), request.body.name.trim()];
      if (card === '') throw new Refusal('bad-input', 'Names begin again on every card, so a list says of which card it is.', { fields: [{ field: 'card', why: 'is empty' }] });
      const bytes = Buffer.from(request.body.text);
      const entries = readOriginals(bytes);
      const sha256 = createHash('sha256').update(bytes).digest('hex');
      return write(db, whoOf(request), filmId, async (tx) => {
        await holdOriginals(tx, filmId);
        if (await tx.originalList.count({ where: { filmId, card, sha256, removedAt: null } })) throw new Refusal('same-list');
        await checkClash(tx, filmId, { card, entries });
        const list = toList(await tx.originalList.create({ data: { filmId, card, name, sha256, entries: entries as unknown as Prisma.InputJsonArray, givenById: userId } }));
        return { kind: 'original-list.given', subject: list.id, rows: {}, result: list };
      });
    },
  );

  app.delete('/api/films/:film/originals/lists/:list', { config: { permission: 'clips.edit' }, schema: { summary: 'Put a list of originals aside; it can be brought back', params: OneList, response: { 200: OriginalList } } }, async (request) =>
    changeList(request, 'original-list.removed'),
  );

  app.post('/api/films/:film/originals/lists/:list/restore', { config: { permission: 'clips.edit' }, schema: { summary: 'Bring a list of originals back', params: OneList, response: { 200: OriginalList } } }, async (request) =>
    changeList(request, 'original-list.restored'),
  );

  const changeList = async (request: Parameters<typeof memberOf>[0] & { params: { list: string } }, kind: 'original-list.removed' | 'original-list.restored'): Promise<OriginalList> => {
    const { filmId } = memberOf(request);
    return write(db, whoOf(request), filmId, async (tx) => {
      await holdOriginals(tx, filmId);
      const row = await tx.originalList.findFirst({ where: { id: request.params.list, filmId } });
      if (!row) throw new Refusal('not-found');
      const back = kind === 'original-list.restored';
      if (back && row.removedAt) {
        if (await tx.originalList.count({ where: { filmId, card: row.card, sha256: row.sha256, removedAt: null } })) throw new Refusal('same-list');
        await checkClash(tx, filmId, toOfList(row));
      }
      const changed = await tx.originalList.update({ where: { id: row.id }, data: { removedAt: back ? null : (row.removedAt ?? new Date()) } });
      return { kind, subject: row.id, rows: {}, result: toList(changed) };
    });
  };

  app.put(
    '/api/films/:film/originals/choices/:clip',
    {
      config: { permission: 'clips.edit' },
      schema: { summary: 'Settle what the camera original of a clip is', description: 'Answers what was settled before, which undoes it.', params: OneClip, body: Choice, response: { 200: Choice } },
    },
    async (request) => {
      const { filmId } = memberOf(request);
      const { joined, own, apart } = request.body;
      if (own && joined !== null) throw new Refusal('bad-input', 'A clip’s own file is the original, or was made from another one.', { fields: [{ field: 'own', why: 'is said beside an original' }] });
      if (joined !== null && apart.includes(joined)) throw new Refusal('bad-input', 'One original is joined and parted at once.', { fields: [{ field: 'apart', why: 'names the original that is joined' }] });
      return write(db, whoOf(request), filmId, async (tx) => {
        await holdOriginals(tx, filmId);
        const clip = await lockClip(tx, filmId, request.params.clip);
        if (clip.removedAt) throw new Refusal('removed-meanwhile');
        const before = await tx.originalChoice.findUnique({ where: { clipId: clip.id }, select: { joined: true, own: true, apart: true } });
        if (joined !== null && joined !== before?.joined) await checkFree(tx, filmId, clip.id, joined);
        await tx.originalChoice.upsert({ where: { clipId: clip.id }, create: { clipId: clip.id, filmId, joined, own, apart }, update: { joined, own, apart } });
        return { kind: 'original.settled', subject: clip.id, rows: {}, result: before ?? NOTHING };
      });
    },
  );
}

/** @throws Refusal `original-differs` where lists contradict each other. */
async function checkClash(tx: Tx, filmId: string, list: OfList): Promise<void> {
  const { clash } = merge([...(await listsOf(tx, filmId)).map(toOfList), list]);
  if (clash) throw new Refusal('original-differs', `${clash.path} has another ${clash.fact} on a list that is here already. Put that list aside first if this one is right.`, { fields: [{ field: clash.path, why: `has another ${clash.fact}` }] });
}

/** @throws Refusal `not-found` where no list names the original, `original-taken` where a person joined it to another clip. */
async function checkFree(tx: Tx, filmId: string, clipId: string, id: string): Promise<void> {
  const original = merge((await listsOf(tx, filmId)).map(toOfList)).originals.find(({ ids }) => ids.includes(id));
  if (!original) throw new Refusal('not-found', 'No list names this original any more.');
  const other = await tx.originalChoice.findFirst({ where: { filmId, joined: { in: original.ids }, clipId: { not: clipId } }, include: { clip: { select: { name: true } } } });
  if (other) throw new Refusal('original-taken', `This original is joined to ${other.clip.name}; part them first.`);
}
