import postgres from 'postgres';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openDb } from '../../server/platform/db.ts';
import { migrate } from '../../server/platform/migrate.ts';
import { listItems } from '../../server/outline/index.ts';
import { freshDatabase } from '../fixtures/database.ts';

/*
 * A database as the first release left it, with data in it, brought up to this one: nothing is lost, and what browsers
 * ask for again has the shape they know now.
 */
let database: Awaited<ReturnType<typeof freshDatabase>>;
let sql: postgres.Sql;
beforeAll(async () => {
  database = await freshDatabase();
  await migrate(database.url, { until: '20261125_first' });
  sql = postgres(database.url, { max: 1, onnotice: () => {} });
  await sql`INSERT INTO film (id, title, rate_num, rate_den, target_frames, last_seq) VALUES ('film', 'The Last Ferry (test)', 25, 1, 6000, 5)`;
  await sql`INSERT INTO item (id, film_id, kind, parent_id, order_key, name, role, target_frames, must_show, removed_at, removal_id) VALUES
    ('opening', 'film', 'part', NULL, '1', 'Opening: low water', 'opening', 1000, '', NULL, NULL),
    ('mud', 'film', 'slot', 'opening', '1', 'Mud and sky', 'body', 300, 'the flats', NULL, NULL),
    ('boots', 'film', 'slot', 'opening', '2', 'Boots', 'body', NULL, '', NULL, NULL),
    ('gone', 'film', 'slot', 'opening', '3', 'Gone', 'body', 75, '', now(), 'removal')`;
  const line = { id: 'mud', kind: 'slot', parentId: 'opening', orderKey: '1', name: 'Mud and sky', role: 'body', mustShow: '', comesIn: '', goesOut: '', decisions: 0, removedAt: null, removalId: null };
  await sql`INSERT INTO clip (id, film_id, name, original_path, bytes, xxh64, uploaded_by_id, camera, model, shoot_day, captured_at, captured_zone) VALUES
    ('clip', 'film', 'A_0001.mp4', 'p', 9, '0ea03b369a463d9d', 'u', 'Pocket 7', 'Pocket 7', '2026-05-31', '2026-05-30T23:30:00Z', 120),
    ('sorted', 'film', 'A_0002.mp4', 'q', 9, '7680e5f98f4a80fd', 'u', 'A', 'Pocket 7', '2026-05-30', '2026-05-30T23:30:00Z', 120)`;
  await sql`INSERT INTO upload (id, film_id, user_id, name, relative_path, card, state, clip_id) VALUES
    ('came', 'film', 'u', 'A_0001.mp4', 'A001/DCIM/A_0001.mp4', 'A001', 'arrived', 'clip'), ('loose', 'film', 'u', 'B.mp4', '', '', 'arriving', NULL)`;
  const sent = { id: 'came', name: 'A_0001.mp4', card: 'A001', state: 'arrived', clipId: 'clip' };
  const told = [
    { uploads: [sent, { ...sent, id: 'loose', card: '', state: 'arriving', clipId: null }], clips: [{ id: 'sorted', name: 'A_0002.mp4', capturedAt: '2026-05-30T23:30:00.000Z', capturedZone: 120 }] },
    { items: [{ ...line, targetFrames: 300 }, { ...line, id: 'boots', targetFrames: null }] },
    { film: [{ id: 'film', title: 'The Last Ferry (test)', targetFrames: 6000 }] },
    { offers: [{ id: 'offer', targetFrames: 'untouched' }] },
    { items: [] },
  ];
  for (const [i, rows] of told.entries()) await sql`INSERT INTO event (film_id, seq, kind, subject, rows) VALUES ('film', ${i + 1}, 'x', 'y', ${sql.json(rows)})`;
});
afterAll(async () => {
  await sql.end();
  await database.drop();
});

it('keeps every line, and a length that was there is a fixed one', async () => {
  const before = await sql`SELECT id, name, role, target_frames, must_show, order_key, parent_id, removed_at, removal_id FROM item ORDER BY id`;
  expect((await migrate(database.url))[0]).toBe('20261126_02_budgets');
  expect([...(await sql`SELECT id, name, role, target_frames, must_show, order_key, parent_id, removed_at, removal_id FROM item ORDER BY id`)]).toEqual([...before]);
  const db = openDb(database.url);
  const items = await listItems(db, 'film');
  await db.$disconnect();
  expect(items.every(({ fitted }) => fitted === null)).toBe(true);
  expect(Object.fromEntries(items.map(({ id, wish }) => [id, wish]))).toEqual({ opening: { kind: 'fixed', frames: 1000 }, mud: { kind: 'fixed', frames: 300 }, boots: { kind: 'open' } });
  expect([...(await sql`SELECT target_frames, closing_share, shortest_shot, dismissed FROM film`)]).toEqual([{ target_frames: 6000, closing_share: 800, shortest_shot: 12, dismissed: [] }]);
});

it('gives the lines in old events their new shape, in their order, and leaves everything else alone', async () => {
  const events = await sql`SELECT rows FROM event ORDER BY seq`;
  const [uploads, lines, film, offers, none] = events.map(({ rows }) => rows);
  const { id: card } = (await sql`SELECT id FROM card`)[0]!;
  expect(uploads.uploads).toMatchObject([{ id: 'came', name: 'A_0001.mp4', sourcePath: 'A001/DCIM/A_0001.mp4', cardId: card, beside: false, xxh64: '0ea03b369a463d9d' }, { id: 'loose', cardId: null, beside: false, xxh64: null }]);
  expect(lines.items.map(({ id, wish }: { id: string; wish: unknown }) => [id, wish])).toEqual([['mud', { kind: 'fixed', frames: 300 }], ['boots', { kind: 'open' }]]);
  expect(lines.items[0]).not.toHaveProperty('targetFrames');
  expect(lines.items[0]).toMatchObject({ name: 'Mud and sky', orderKey: '1', fitted: null });
  expect(film.film).toEqual([{ id: 'film', title: 'The Last Ferry (test)', targetFrames: 6000, closingShare: 800, shortestShot: 12, handleFrames: 24, dismissed: [] }]);
  expect(offers).toEqual({ offers: [{ id: 'offer', targetFrames: 'untouched', cutInAt: null }] });
  expect(none).toEqual({ items: [] });
});

it('tells what a person had set of a clip from what followed from its clock, and keeps both', async () => {
  expect([...(await sql`SELECT id, camera, shoot_day::text AS day, by_hand, noted_at, noted_zone FROM clip ORDER BY id`)]).toEqual([
    { id: 'clip', camera: 'Pocket 7', day: '2026-05-31', by_hand: [], noted_at: new Date('2026-05-30T23:30:00Z'), noted_zone: 120 },
    { id: 'sorted', camera: 'A', day: '2026-05-30', by_hand: ['camera', 'shootDay'], noted_at: new Date('2026-05-30T23:30:00Z'), noted_zone: 120 },
  ]);
  const [{ rows }] = (await sql`SELECT rows FROM event WHERE seq = 1`) as unknown as [{ rows: { clips: unknown[] } }];
  expect(rows.clips).toEqual([{ id: 'sorted', name: 'A_0002.mp4', capturedAt: '2026-05-30T23:30:00.000Z', capturedZone: 120, notedAt: '2026-05-30T23:30:00.000Z', notedZone: 120, byHand: ['camera', 'shootDay'], place: null, aside: null }]);
});

it('makes a card of the word that stood on its uploads, and knows what arrived of it', async () => {
  expect([...(await sql`SELECT film_id, name FROM card`)]).toEqual([{ film_id: 'film', name: 'A001' }]);
  expect([...(await sql`SELECT upload.id, card.name AS card, source_path, kept_path, sums FROM upload LEFT JOIN card ON card.id = card_id ORDER BY upload.id`)]).toEqual([
    { id: 'came', card: 'A001', source_path: 'A001/DCIM/A_0001.mp4', kept_path: null, sums: { xxh64: '0ea03b369a463d9d' } },
    { id: 'loose', card: null, source_path: 'B.mp4', kept_path: null, sums: {} },
  ]);
});

it('leaves old events without a name, and takes a name once in a film', async () => {
  expect([...(await sql`SELECT DISTINCT change_id FROM event`)]).toEqual([{ change_id: null }]);
  const put = (seq: number) => sql`INSERT INTO event (film_id, seq, kind, subject, rows, change_id) VALUES ('film', ${seq}, 'x', 'y', '{}', 'once')`;
  await put(98);
  await expect(put(99)).rejects.toMatchObject({ constraint_name: 'event_film_id_change_id_key' });
  await sql`DELETE FROM event WHERE seq = 98`;
});

it.each([
  ['two wishes', `target_frames = 9, share = 9`],
  ['half a range', `target_frames = NULL, min_frames = 9`],
  ['a range that goes down', `target_frames = NULL, min_frames = 9, max_frames = 8`],
  ['a range of nothing', `target_frames = NULL, min_frames = 0, max_frames = 8`],
  ['more than the whole', `target_frames = NULL, share = 10001`],
])('takes no line with %s', async (_, columns) => {
  await expect(sql.unsafe(`UPDATE item SET ${columns} WHERE id = 'mud'`)).rejects.toMatchObject({ constraint_name: 'item_wish' });
});

it('takes no fitted length of nothing', async () => {
  await expect(sql`UPDATE item SET fitted_frames = 0 WHERE id = 'mud'`).rejects.toMatchObject({ constraint_name: 'item_fitted' });
});
