// The turnover over the API: the check and what is let go of it, the files against the database, the zip, the rights.
import { createHash } from 'node:crypto';
import { parse } from 'csv-parse/sync';
import smpteTimecode from 'smpte-timecode';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { fromBufferPromise } from 'yauzl';
import type { Clip, Item } from '#prisma';
import type { TurnoverCheck, TurnoverFiles, TurnoverRemark } from '../../server/turnover/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { addItem, addSelect } from '../fixtures/slots.ts';
import { checkOtio, playsOf } from '../fixtures/turnover/otio-spec.ts';

let rig: Rig;
let slots: Record<'boots' | 'gulls' | 'causeway' | 'empty', Item>;
let clips: Record<'night' | 'phone' | 'drone', Clip>;
const RATE: [number, number] = [24000, 1001];
const frameOf = (label: string) => smpteTimecode(label, RATE, false).frameCount;
const editor = () => rig.as('editor');

beforeAll(async () => {
  rig = await startRig();
  const crossing = await addItem(rig, 'part', 'The crossing');
  slots = {
    boots: await addItem(rig, 'slot', 'Boots, close', crossing.id),
    gulls: await addItem(rig, 'slot', 'Gulls', crossing.id),
    causeway: await addItem(rig, 'slot', 'Causeway', crossing.id),
    empty: await addItem(rig, 'slot', 'Sea wall', crossing.id),
  };
  clips = {
    // Over midnight, ten frames into an original that is longer.
    night: await addClip(rig, { name: 'A001C003.mov', card: 'A001', camera: 'A', startFrame: 24 * 86400 - 20, frames: 240, probe: { startTimecode: '23:59:59:04' }, width: 1920, height: 1080, location: 'The pier' }),
    phone: await addClip(rig, { name: 'P_0007.mp4', card: 'P001', camera: 'Phone', rateNum: 30, rateDen: 1, variableRate: true, frames: 300, width: 1920, height: 1080 }),
    drone: await addClip(rig, { name: 'D_0001.mp4', card: 'D001', camera: 'D', width: 1280, height: 720 }),
  };
  await rig.as('field').post(rig.at('/originals/lists'), { card: 'A001', name: 'list.csv', text: 'path,reel,start timecode,rate,frames,size\nCLIP/A001C003.MXF,A001R2EC,23:59:58:18,24000/1001,4000,99000\n' });
  await rig.as('assistant').put(rig.at(`/originals/choices/${clips.night.id}`), { joined: 'A001/CLIP/A001C003.MXF', own: false, apart: [] });
  const offer = async (slot: Item, clip: Clip, range: { in: number; outExclusive: number }) => (await editor().post(rig.at('/offers'), { slotId: slot.id, selectId: (await addSelect(rig, { clip, ...range })).id })).body;
  const approve = async (made: { id: string }) => rig.as('director').post(rig.at(`/offers/${made.id}/verdict`), { verdict: 'approve', decisions: 0 });
  const boots = await offer(slots.boots, clips.night, { in: 0, outExclusive: 48 });
  await approve(boots);
  await approve(await offer(slots.gulls, clips.phone, { in: 60, outExclusive: 121 }));
  await offer(slots.causeway, clips.drone, { in: 100, outExclusive: 148 });
  await rig.as('director').post(rig.at('/notes'), { offerId: boots.id, in: 12, text: 'Can it begin "later"?' });
});
afterAll(() => rig.close());

const check = async (): Promise<TurnoverCheck> => (await editor().get(rig.at('/turnover/check'))).body;
const remarks = async (kind: TurnoverRemark['kind']) => (await check()).remarks.filter((one) => one.kind === kind);
const file = async (name: string): Promise<string> => (await editor().fetch(rig.at(`/turnover/files/${name}`))).text();

it('says in words what is to be seen to, and where', async () => {
  const { remarks: all, slots: count, approved, originals } = await check();
  expect([count, approved, originals]).toEqual([4, 2, 3]);
  const words = all.map(({ text }) => text);
  expect(words).toContain('Causeway has no pick: D_0001.mp4 goes along as the best of 1 offer.');
  expect(words).toContain('Sea wall has no pick and nothing on offer, so its length is left empty.');
  expect(words).toContain('P_0007.mp4 has a variable frame rate: its frames are counted at 30, so conform it by time.');
  expect(words).toContain('D_0001.mp4 is 1280 × 720, most of the film 1920 × 1080.');
  expect(words).toContain('Boots, close has less handle than asked: A001C003.MXF has 10 of 24 frames before it.');
  expect(words).toContain('The permit for The pier is missing.');
  expect(words).toContain('An open note on Boots, close. Test director: Can it begin "later"?');
  expect((await remarks('no-original')).map(({ clipId }) => clipId).sort()).toEqual([clips.phone.id, clips.drone.id].sort());
  expect((await remarks('rate')).map(({ clipId }) => clipId)).toEqual([clips.phone.id]);
  expect((await remarks('overlap'))).toEqual([]);
  expect((await remarks('note'))[0]).toMatchObject({ slotId: slots.boots.id, frame: 12, letGo: null });
});

it('lets a remark go with who and why, takes it back, and says it anew when its facts change', async () => {
  const [remark] = await remarks('handles');
  const put = (why: string | null, key = remark!.key) => rig.as('assistant').put(rig.at('/turnover/let-go'), { changes: [{ key, why }] });
  const before = (await put('The shot is a static one')).body;
  expect(before).toEqual({ changes: [{ key: remark!.key, why: null }] });
  expect((await remarks('handles'))[0]!.letGo).toMatchObject({ why: 'The shot is a static one', by: 'Test assistant' });
  expect(await file('check.txt')).toMatch(/Let go by Test assistant, 20\d\d-.*: The shot is a static one/);
  const after = (await rig.as('assistant').put(rig.at('/turnover/let-go'), before)).body;
  expect(after.changes[0].why).toBe('The shot is a static one');
  expect((await remarks('handles'))[0]!.letGo).toBeNull();
  await put('Once more');
  await editor().patch(rig.at(''), { handleFrames: 12 });
  expect((await remarks('handles'))[0]).toMatchObject({ letGo: null, text: 'Boots, close has less handle than asked: A001C003.MXF has 10 of 12 frames before it.' });
  await editor().patch(rig.at(''), { handleFrames: 24 });
  expect((await remarks('handles'))[0]!.letGo).not.toBeNull();
  expect((await put('It is not said', 'handles nothing')).body.code).toBe('remark-gone');
  expect((await put('  ')).body).toMatchObject({ code: 'bad-input', fields: [{ field: 'changes.0.why' }] });
  // Of several all or none.
  expect((await rig.as('assistant').put(rig.at('/turnover/let-go'), { changes: [{ key: remark!.key, why: null }, { key: 'handles nothing', why: 'x' }] })).body.code).toBe('remark-gone');
  expect((await remarks('handles'))[0]!.letGo).not.toBeNull();
});

it('hands over what the database says: each event with its source and its place in the film', async () => {
  const timeline = JSON.parse(await file('string-out.otio'));
  expect(checkOtio(timeline)).toEqual([]);
  const [picture] = playsOf(timeline);
  const hour = frameOf('01:00:00:00');
  expect(picture!.slice(0, 3).map(({ record, source, rate, media }) => ({ record, source, rate, media }))).toEqual([
    { record: [hour, hour + 48], source: frameOf('23:59:58:18') + 10, rate: 24000 / 1001, media: 'A001/CLIP/A001C003.MXF' },
    // 61 frames of 30 are 2.0333 s, 48.75 frames of the film.
    { record: [hour + 48, hour + 97], source: 60, rate: 30, media: null },
    { record: [hour + 97, hour + 145], source: 100, rate: 24000 / 1001, media: null },
  ]);
  const [bootsLine] = (await file('string-out.edl')).split('\r\n').filter((line) => line.startsWith('001'));
  expect(bootsLine).toBe('001  A001R2EC V     C        23:59:59:04 00:00:01:04 01:00:00:00 01:00:02:00');
  const pulled = parse(await file('pull-list.csv'), { columns: true }) as Record<string, string>[];
  expect(pulled.find(({ file: name }) => name === 'CLIP/A001C003.MXF')).toMatchObject({ card: 'A001', size: '99000', 'in with handles': '23:59:58:18', 'out with handles': '00:00:02:04', 'camera original': 'matched' });
});

it('zips everything with checksums, the same bytes twice, and read by another reader', async () => {
  const fetched = async () => Buffer.from(await (await editor().fetch(rig.at('/turnover/package'))).arrayBuffer());
  const bytes = await fetched();
  expect(createHash('sha256').update(await fetched()).digest('hex')).toBe(createHash('sha256').update(bytes).digest('hex'));
  const { package: name, files } = (await editor().get(rig.at('/turnover/files'))).body as TurnoverFiles;
  const zip = await fromBufferPromise(bytes);
  const read = new Map<string, Buffer>();
  for await (const entry of zip.eachEntry()) {
    const parts: Buffer[] = [];
    for await (const part of await zip.openReadStreamPromise(entry)) parts.push(part as Buffer);
    read.set(entry.fileName, Buffer.concat(parts));
  }
  const folder = name.replace('.zip', '');
  expect([...read.keys()]).toEqual([...files.map(({ name: one }) => `${folder}/${one}`).sort(), `${folder}/checksums.sha256`]);
  const sums = read.get(`${folder}/checksums.sha256`)!.toString().trimEnd().split('\n').map((line) => line.split('  '));
  for (const [sum, one] of sums) expect(createHash('sha256').update(read.get(`${folder}/${one}`)!).digest('hex')).toBe(sum);
  for (const { name: one, bytes: size, sha256 } of files) expect([read.get(`${folder}/${one}`)!.byteLength, sums.find(([, other]) => other === one)![0]]).toEqual([size, sha256]);
  expect(sums).toHaveLength(files.length);
});

it('keeps permits and releases, and says what is missing of them', async () => {
  const field = rig.as('field');
  const { status, body: permit } = await field.post(rig.at('/clearances'), { kind: 'location', name: ' the Pier ', state: 'kept', words: 'Harbour office, folder 2' });
  expect([status, permit.name]).toEqual([201, 'the Pier']);
  expect((await field.post(rig.at('/clearances'), { kind: 'location', name: 'THE PIER', state: 'missing' })).body).toMatchObject({ code: 'bad-input', fields: [{ field: 'name' }] });
  const { body: release } = await field.post(rig.at('/clearances'), { kind: 'person', name: 'The driver', state: 'missing' });
  expect((await remarks('rights')).map(({ text }) => text)).toEqual(['The release of The driver is missing.']);
  await field.patch(rig.at(`/clearances/${release.id}`), { state: 'not-needed' });
  expect(await remarks('rights')).toEqual([]);
  expect((await editor().get(rig.at('/rights'))).body).toMatchObject({ places: [{ name: 'The pier', clips: 1, plays: 1 }], clearances: [{ name: 'the Pier' }, { state: 'not-needed' }] });
  expect(await file('check.txt')).toContain('local law and the licence itself decide');
  await field.del(rig.at(`/clearances/${permit.id}`));
  expect((await field.patch(rig.at(`/clearances/${permit.id}`), { state: 'kept' })).body.code).toBe('removed-meanwhile');
  expect((await remarks('rights')).map(({ text }) => text)).toEqual(['The permit for The pier is missing.']);
  await field.post(rig.at(`/clearances/${permit.id}/restore`));
  expect(await remarks('rights')).toEqual([]);
  expect((await rig.as('field').get(rig.at('/turnover/check'))).status).toBe(403);
});

it('tells the pick book in the timecodes of the files', async () => {
  const { slots: book } = (await editor().get(rig.at('/turnover/pick-book'))).body;
  expect(book.map(({ name, state }: any) => [name, state])).toEqual([['Boots, close', 'approved'], ['Gulls', 'approved'], ['Causeway', 'offered'], ['Sea wall', 'empty']]);
  expect(book[0]).toMatchObject({ recordIn: '01:00:00:00', recordOut: '01:00:02:00', take: { file: 'CLIP/A001C003.MXF', sourceIn: '23:59:59:04', sourceOut: '00:00:01:04', stillFrame: 24 }, notes: [{ at: '23:59:59:16', text: 'Test director: Can it begin "later"?' }] });
});

it('has no file but its own', async () => {
  expect((await editor().get(rig.at('/turnover/files/secrets.txt'))).body.code).toBe('not-found');
  expect((await editor().get(rig.at('/turnover/files/string-out-7.edl'))).body.code).toBe('not-found');
  expect((await editor().get(rig.at('/turnover/files/..%2F..%2Fetc%2Fpasswd'))).status).toBe(404);
});

it('reads a later cut, marks what is in it in one change, and takes that back', async () => {
  const events = async () => (await rig.db.film.findUniqueOrThrow({ where: { id: rig.film } })).lastSeq;
  const cut = JSON.parse(await file('string-out.otio'));
  // The editor takes Gulls out and lets Boots run on for 12 frames.
  cut.tracks.children[0].children.splice(1, 1);
  cut.tracks.children[0].children[0].source_range.duration.value += 12;
  const before = await events();
  const { status, body } = await editor().post(rig.at('/turnover/cut'), { files: [{ name: 'cut 2.otio', text: JSON.stringify(cut) }] });
  expect([status, await events()]).toEqual([200, before]);
  expect(body.slots.map(({ name, is, was, now, tail }: any) => [name, is, was, now, tail])).toEqual([['Boots, close', 'in', 48, 60, 12], ['Gulls', 'gone', 49, 0, 0], ['Causeway', 'in', 48, 48, 0], ['Sea wall', 'was-empty', 0, 0, 0]]);

  const offers = Object.fromEntries(body.slots.map(({ name, offerId }: any) => [name, offerId]));
  const mark = (set: string[], clear: string[]) => editor().post(rig.at('/turnover/cut-in'), { set, clear });
  await mark([offers.Gulls], []);
  const changed = await mark([offers['Boots, close']], [offers.Gulls]);
  expect(changed.body).toEqual({ set: [offers['Boots, close']], clear: [offers.Gulls] });
  expect(await events()).toBe(before + 2);
  const cutIn = async () => (await rig.db.offer.findMany({ where: { filmId: rig.film, cutInAt: { not: null } } })).map(({ id }) => id);
  expect(await cutIn()).toEqual([offers['Boots, close']]);
  expect((await editor().get(rig.at('/state'))).body.rows.offers.find(({ id }: any) => id === offers['Boots, close']).cutInAt).toMatch(/^20/);
  await mark(changed.body.clear, changed.body.set);
  expect(await cutIn()).toEqual([offers.Gulls]);
  expect((await mark([offers.Gulls], [offers.Gulls])).body.code).toBe('bad-input');
  expect((await mark(['none'], [])).body.code).toBe('not-found');
  expect(await cutIn()).toEqual([offers.Gulls]);
});

it('refuses what is no cut, and changes nothing by it', async () => {
  const give = (text: string) => editor().post(rig.at('/turnover/cut'), { files: [{ name: 'cut', text }] });
  const state = async () => JSON.stringify((await editor().get(rig.at('/state'))).body);
  const before = await state();
  expect((await give('<!DOCTYPE x [<!ENTITY a SYSTEM "file:///etc/passwd">]><x>&a;</x>')).body.code).toBe('cut-unknown');
  expect((await give((await file('string-out.otio')).slice(0, 3000))).body).toMatchObject({ code: 'cut-damaged', fields: [{ field: 'cut' }] });
  expect((await give((await file('string-out.otio')).replaceAll('"Clip.2"', '"Clip.9"'))).body.code).toBe('cut-schema');
  expect((await give((await file('string-out.edl')).replaceAll(':00 ', ':28 '))).body.code).toBe('cut-rate');
  expect((await give('x'.repeat(100 * 1024 * 1024))).body.code).toBe('too-large');
  expect((await editor().post(rig.at('/turnover/cut'), { files: [] })).body.code).toBe('bad-input');
  expect(await state()).toBe(before);
});
