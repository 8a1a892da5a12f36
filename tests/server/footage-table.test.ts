// The table of the footage: its order, its windows, and what is found in it, against every clip looked at one by one.
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { addClip } from '../fixtures/clips.ts';
import { oneOf, randomFrom } from '../fixtures/random.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';

interface Known {
  id: string;
  name: string;
  day: string | null;
  camera: string;
  capturedAt: number | null;
  startFrame: number;
  frames: number | null;
  location: string;
  seen: [number, number][];
  labels: string[];
  circled: boolean;
  notes: string[];
  faults: string[] | null;
  state: 'ready' | 'failed' | 'received';
}

let rig: Rig;
const known: Known[] = [];
const RATE = 24;

beforeAll(async () => {
  rig = await startRig();
  const next = randomFrom(20261126);
  const one = <T>(of: readonly T[]): T => oneOf(next, of);
  for (let n = 0; n < 120; n++) {
    const captured = next() < 0.7;
    const frames = next() < 0.9 ? 24 + Math.floor(next() * 2400) : null;
    const clip: Omit<Known, 'id'> = {
      name: `${one(['A', 'b', 'C_'])}${Math.floor(next() * 120)}${one(['.mov', '.MP4', ''])}`,
      day: one(['2026-05-29', '2026-05-30', '2026-06-01', null]),
      camera: one(['A', 'B', 'Cam 9', 'Cam 10', '']),
      capturedAt: captured ? Date.UTC(2026, 4, 30) + Math.floor(next() * 40) * 60_000 : null,
      startFrame: Math.floor(next() * 5) * 24 * 60,
      frames,
      location: one(['', 'The causeway', 'Oyster beds']),
      seen: frames === null || next() < 0.4 ? [] : next() < 0.5 ? [[0, frames]] : [[0, 10], [20, 24]],
      labels: next() < 0.5 ? [] : [one(['Nets lifted', 'gulls over the NETS', ''])],
      circled: next() < 0.3,
      notes: next() < 0.7 ? [] : [one(['Nice light', 'The rake, closer'])],
      faults: frames === null ? null : next() < 0.5 ? [] : ['soft', one(['shaky', 'silent'])],
      state: frames === null ? one(['failed', 'received']) : 'ready',
    };
    const { id } = await addClip(rig, {
      name: clip.name,
      camera: clip.camera,
      location: clip.location,
      shootDay: clip.day === null ? null : new Date(clip.day),
      capturedAt: clip.capturedAt === null ? null : new Date(clip.capturedAt),
      startFrame: clip.startFrame,
      frames,
      rateNum: frames === null ? null : RATE,
      rateDen: frames === null ? null : 1,
      state: clip.state,
      ...(clip.faults ? { faults: Object.fromEntries(clip.faults.map((fault) => [fault, 12])) } : {}),
    });
    const by = rig.as('editor').userId;
    if (clip.seen.length) await rig.db.$executeRaw`INSERT INTO seen (clip_id, user_id, ranges) VALUES (${id}, ${by}, ${`{${clip.seen.map(([a, b]) => `[${a},${b})`).join(',')}}`}::int4multirange)`;
    for (const label of clip.labels) await rig.db.select.create({ data: { filmId: rig.film, clipId: id, in: 0, outExclusive: 5, label, circled: clip.circled, madeById: by } });
    for (const text of clip.notes) await rig.db.note.create({ data: { filmId: rig.film, clipId: id, text, addressed: [], authorId: by } });
    known.push({ id, ...clip });
  }
  await addClip(rig, { name: 'gone.mov', removedAt: new Date() });
});
afterAll(() => rig.close());

/** As a person orders them: numbers by their value; what has no day, no camera, no moment of capture comes last. */
const people = new Intl.Collator('en', { numeric: true, sensitivity: 'base' }).compare;
const last = (a: string, b: string) => Number(a === '') - Number(b === '') || people(a, b);
const inOrder = (a: Known, b: Known) =>
  last(a.day ?? '', b.day ?? '') ||
  last(a.camera, b.camera) ||
  Number(a.capturedAt === null) - Number(b.capturedAt === null) ||
  (a.capturedAt ?? 0) - (b.capturedAt ?? 0) ||
  (a.capturedAt === null && a.frames !== null ? Math.floor(a.startFrame / RATE) : 0) - (b.capturedAt === null && b.frames !== null ? Math.floor(b.startFrame / RATE) : 0);
const moment = (clip: Known) => [clip.day, clip.camera, clip.capturedAt ?? (clip.frames === null ? 0 : Math.floor(clip.startFrame / RATE))];

const get = async (path: string) => (await rig.as('editor').get(rig.at(`/footage${path}`))).body;
const whole = (clip: Known) => clip.frames !== null && clip.seen.length === 1 && clip.seen[0]![1] === clip.frames;

describe('the table', () => {
  it('has a row a day, a column a camera, and counts what is in each cell', async () => {
    const table = await get('/table');
    expect(table.cameras).toEqual(['A', 'B', 'Cam 9', 'Cam 10', '']);
    expect(table.days.map(({ day }: { day: string }) => day)).toEqual(['2026-05-29', '2026-05-30', '2026-06-01', null]);
    for (const { day, counts } of table.days)
      expect(counts).toEqual(table.cameras.map((camera: string) => known.filter((clip) => clip.day === day && clip.camera === camera).length));
    expect([table.clips, table.film.clips, table.film.failed]).toEqual([known.length, known.length, known.filter(({ state }) => state === 'failed').length]);
    expect(table.frames).toEqual([{ rate: { num: 24, den: 1 }, frames: known.reduce((sum, { frames }) => sum + (frames ?? 0), 0) }]);
  });

  it('is in the order of capture, and windows of it join without a gap', async () => {
    const rows: { clip: { id: string } }[] = [];
    for (let offset = 0; ; offset += 17) {
      const window = await get(`/clips?offset=${offset}&limit=17`);
      rows.push(...window);
      if (window.length < 17) break;
    }
    const ids = rows.map(({ clip }) => clip.id);
    expect(new Set(ids).size).toBe(known.length);
    expect(await get('/ids')).toEqual(ids);
    const byId = new Map(known.map((clip) => [clip.id, clip]));
    expect(ids.map((id) => moment(byId.get(id)!))).toEqual([...known].sort(inOrder).map(moment));
    // Names decide last, with their numbers read as numbers.
    for (const [n, id] of ids.entries()) {
      const [a, b] = [byId.get(id)!, byId.get(ids[n + 1] ?? '')];
      if (b && inOrder(a, b) === 0 && /^[A-Za-z]\d+$/.test(a.name) && /^[A-Za-z]\d+$/.test(b.name)) expect(people(a.name, b.name)).toBeLessThanOrEqual(0);
    }
  });

  it('gives a cell by its day and camera, those without one too', async () => {
    for (const [day, camera] of [['2026-05-30', 'Cam 10'], ['none', 'A'], ['2026-06-01', ''], ['none', '']] as const) {
      const rows = await get(`/clips?day=${day}&camera=${encodeURIComponent(camera)}&limit=200`);
      expect(rows.map(({ clip }: { clip: { id: string } }) => clip.id).sort()).toEqual(known.filter((clip) => (clip.day ?? 'none') === day && clip.camera === camera).map(({ id }) => id).sort());
    }
  });

  it('tells of each clip what was cut out, noted and seen', async () => {
    for (const { clip, selects, circled, notes, seen } of await get('/clips?limit=120')) {
      const one = known.find(({ id }) => id === clip.id)!;
      expect([selects, circled, notes, seen.crew, seen.mine]).toEqual([one.labels.length, one.circled ? one.labels.length : 0, one.notes.length, one.seen, one.seen]);
    }
    const some = known.slice(3, 6).map(({ id }) => id);
    const { body } = await rig.as('editor').post(rig.at('/footage/rows'), { ids: [...some, 'nothing'] });
    expect(body.map(({ clip }: { clip: { id: string } }) => clip.id)).toEqual(some);
  });
});

const words = (clip: Known) => [clip.name, clip.location, clip.camera, ...clip.labels, ...clip.notes].join(' ').toLowerCase().split(/[^a-z0-9]+/);
const CASES: [string, (clip: Known) => boolean][] = [
  ['words=nets', (clip) => words(clip).includes('nets')],
  ['words=NETS+gul', (clip) => words(clip).includes('nets') && words(clip).some((word) => word.startsWith('gul'))],
  ['words=caus', (clip) => clip.location === 'The causeway'],
  ['words=rake%20closer', (clip) => clip.notes.includes('The rake, closer')],
  ['words=%27%20%26%20%7C%20%21%3A%2A', () => true],
  ['words=mov', (clip) => words(clip).includes('mov')],
  ['camera=B', (clip) => clip.camera === 'B'],
  ['camera=', (clip) => clip.camera === ''],
  ['day=2026-05-29', (clip) => clip.day === '2026-05-29'],
  ['day=none', (clip) => clip.day === null],
  ['location=Oyster%20beds', (clip) => clip.location === 'Oyster beds'],
  ['location=', (clip) => clip.location === ''],
  ['longer=50', (clip) => clip.frames !== null && clip.frames >= 50 * RATE],
  ['shorter=20&longer=10', (clip) => clip.frames !== null && clip.frames >= 10 * RATE && clip.frames <= 20 * RATE],
  ['seen=none', (clip) => clip.seen.length === 0],
  ['seen=partly', (clip) => clip.seen.length > 0 && !whole(clip)],
  ['seen=whole', whole],
  ['selects=none', (clip) => clip.labels.length === 0],
  ['selects=some', (clip) => clip.labels.length > 0],
  ['selects=circled', (clip) => clip.labels.length > 0 && clip.circled],
  ['fault=soft', (clip) => clip.faults?.includes('soft') ?? false],
  ['fault=silent', (clip) => clip.faults?.includes('silent') ?? false],
  ['fault=black', () => false],
  ['state=failed', (clip) => clip.state === 'failed'],
  ['state=unfinished', (clip) => clip.state === 'received'],
  ['camera=A&seen=partly&fault=soft', (clip) => clip.camera === 'A' && clip.seen.length > 0 && !whole(clip) && (clip.faults?.includes('soft') ?? false)],
];

describe('what is asked for', () => {
  it.each(CASES)('%s', async (query, is) => {
    const expected = known.filter(is).map(({ id }) => id).sort();
    expect((await get(`/ids?${query}`)).sort()).toEqual(expected);
    expect((await get(`/table?${query}`)).clips).toBe(expected.length);
  });

  it.each(['day=tomorrow', 'seen=perhaps', 'limit=0', 'offset=-1', 'nonsense=1', 'longer=-2', `words=${'x'.repeat(201)}`])('is refused when it cannot be: %s', async (query) => {
    const answer = await rig.as('editor').get(rig.at(`/footage/clips?${query}`));
    expect([answer.status, answer.body.code]).toEqual([400, 'bad-input']);
  });
});

describe('clips beside one', () => {
  it('are those of the table, either way, from either end, unseen ones alone if wished', async () => {
    const ids: string[] = await get('/ids');
    const beside = async (query: string) => (await get(`/beside?${query}`)).map(({ id }: { id: string }) => id);
    expect(await beside(`from=${ids[40]}&limit=3`)).toEqual(ids.slice(41, 44));
    expect(await beside(`from=${ids[40]}&way=before&limit=3`)).toEqual([ids[39], ids[38], ids[37]]);
    expect(await beside('limit=2')).toEqual(ids.slice(0, 2));
    expect(await beside('way=before')).toEqual([ids.at(-1)]);
    expect(await beside(`from=${ids.at(-1)}`)).toEqual([]);
    const unseen = ids.filter((id) => !whole(known.find((clip) => clip.id === id)!));
    expect(await beside(`from=${ids[10]}&limit=5&unseen=true`)).toEqual(unseen.filter((id) => ids.indexOf(id) > 10).slice(0, 5));
    const ofB = ids.filter((id) => known.find((clip) => clip.id === id)!.camera === 'B');
    expect(await beside('camera=B&limit=4')).toEqual(ofB.slice(0, 4));
    const answer = await rig.as('editor').get(rig.at('/footage/beside?from=nothing'));
    expect([answer.status, answer.body.code]).toEqual([404, 'not-found']);
  });
});
