// Proof of arrival: lists made at the source by the real programs, against what arrived, over the real routes and worker.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { xxhash64 } from 'hash-wasm';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startManifestWorker } from '../../server/cards/index.ts';
import type { CardFile, FileState, Proof } from '../../server/cards/contract.ts';
import { receivedCard } from '../fixtures/card-rows.ts';
import { eventually } from '../fixtures/eventually.ts';
import { faultyCard, writeFolder } from '../fixtures/faulty-card.ts';
import { mhl, SAMPLE } from '../fixtures/mhl.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { tusAs } from '../fixtures/tus.ts';

let rig: Rig;
let worker: { stop(): Promise<void> };
let tus: ReturnType<typeof tusAs>;
beforeAll(async () => {
  rig = await startRig();
  worker = await startManifestWorker(rig.ground);
  tus = tusAs(rig.as('field'), rig.film);
});
afterAll(async () => {
  await worker.stop();
  await rig.close();
});

const give = (card: string, text: string, name = 'list') => rig.as('field').post(rig.at(`/cards/${card}/manifests`), { name, text });
const proofOf = async (card: string): Promise<Proof> => (await rig.as('field').get(rig.at(`/cards/${card}/proof`))).body;
/** The proof once the worker has made whatever the card's lists ask for. */
const settled = async (card: string) => {
  await eventually(async () => expect(await rig.db.manifest.count({ where: { cardId: card, state: { not: 'ready' } } })).toBe(0));
  return proofOf(card);
};
const paths = ({ files }: Proof, state: FileState) => files.filter((file) => file.state === state).map(({ path }) => path).sort();
const send = async (card: string, relativePath: string, bytes: Buffer, more: Record<string, string> = {}) => {
  const answer = await tus.whole(bytes, { card, relativePath, filename: relativePath.split('/').at(-1)!, ...more });
  if (answer.status !== 204) throw new Error(await answer.text());
};
const cardId = async (name: string) => (await rig.db.card.findUniqueOrThrow({ where: { filmId_name: { filmId: rig.film, name } } })).id;

describe('a card of 2,000 files with 20 faults', () => {
  const FILES = 2000;
  const card = faultyCard({ files: FILES, faults: 20, seed: 20 });
  let folder: string;
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'rushlight-card-'));
    writeFolder(folder, card.source);
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));
  const under = (prefix: string, list: string[]) => list.map((path) => `${prefix}/${path}`).sort();

  it.each([
    ['md5sum', [], 'A001'],
    ['sha256sum', ['--tag'], 'A002'],
    ['xxhsum', [], 'A003'],
  ] as const)('%s %j: all of them found, none invented', async (program, args, name) => {
    const text = execFileSync(program, [...args, '--', ...card.source.keys()], { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 24 });
    const id = await receivedCard(rig, name, card.arrived);
    expect((await give(id, text)).status).toBe(200);
    const proof = await settled(id);
    // The folder that was dropped stands before every path of what arrived; the list was made inside of it.
    expect({ missing: paths(proof, 'missing'), changed: paths(proof, 'changed'), extra: paths(proof, 'extra') }).toEqual({
      missing: under(name, card.faults.missing),
      changed: under(name, card.faults.changed),
      extra: under(name, card.faults.extra),
    });
    const { missing, changed } = card.faults;
    expect([proof.listed, proof.counts.verified, proof.allReceived]).toEqual([FILES, FILES - missing.length - changed.length, false]);
  });

  it('and without faults: all received', async () => {
    const id = await receivedCard(rig, 'A005', card.source);
    await give(id, execFileSync('xxhsum', ['-H1', '--tag', '--', ...card.source.keys()], { cwd: folder, encoding: 'utf8', maxBuffer: 1 << 24 }));
    const proof = await proofOf(id);
    expect([proof.counts.verified, proof.allReceived]).toEqual([FILES, true]);
  });
});

describe('the standard’s sample card', () => {
  const files = new Map(Object.entries(SAMPLE).map(([path, text]) => [path, Buffer.from(text)]));
  const record = (path: keyof typeof SAMPLE, xxh64: string, action: 'original' | 'verified' | 'failed' = 'original') => ({ path, size: SAMPLE[path].length, hashes: [['xxh64', xxh64, action] as [string, string, typeof action]] });
  const first = mhl([record('Clips/A002C006_141024_R2EC.mov', '0ea03b369a463d9d'), record('Clips/A002C007_141024_R2EC.mov', '7680e5f98f4a80fd'), record('Sidecar.txt', '3ab5a4166b9bde44')]);

  it('scenario 1: one generation, everything verified', async () => {
    const id = await receivedCard(rig, 'A002R2EC', files);
    await give(id, first, '0001_A002R2EC_2020-01-16_091500Z.mhl');
    const proof = await proofOf(id);
    expect([proof.counts.verified, proof.listed, proof.allReceived]).toEqual([3, 3, true]);
  });

  it('scenario 4: a sidecar that was changed is told so, also when a second generation noted it as failed', async () => {
    const altered = Buffer.from('BLOREM ipsum dolor sit amet, consetetur sadipscing elitr!!\n\n');
    const id = await receivedCard(rig, 'A002R2EC-4', new Map([...files, ['Sidecar.txt', altered]]));
    await give(id, first, '0001_A002R2EC_2020-01-16_091500Z.mhl');
    await give(id, mhl([record('Clips/A002C006_141024_R2EC.mov', '0ea03b369a463d9d', 'verified'), record('Clips/A002C007_141024_R2EC.mov', '7680e5f98f4a80fd', 'verified'), { path: 'Sidecar.txt', size: 60, hashes: [['xxh64', '70d2cf31aaa3eac4', 'failed']] }]), '0002_A002R2EC_2020-01-17_143000Z.mhl');
    const proof = await proofOf(id);
    expect([paths(proof, 'changed'), proof.counts.verified, proof.allReceived]).toEqual([['A002R2EC-4/Sidecar.txt'], 2, false]);
  });

  it('a file that a later generation renamed is looked for where it went', async () => {
    const id = await receivedCard(rig, 'renamed', new Map([['Clips/A002C006_141024_R2EC.mov', Buffer.from('abcd\n')], ['Words.txt', files.get('Sidecar.txt')!]]));
    await give(id, mhl([record('Clips/A002C006_141024_R2EC.mov', '0ea03b369a463d9d'), record('Sidecar.txt', '3ab5a4166b9bde44')]), '0001_x.mhl');
    await give(id, mhl([{ path: 'Words.txt', hashes: [['xxh64', '3ab5a4166b9bde44', 'verified']], previousPath: 'Sidecar.txt' }]), '0002_x.mhl');
    const proof = await proofOf(id);
    expect([proof.listed, proof.counts.verified, proof.allReceived]).toEqual([2, 2, true]);
  });

  it('other checksums than xxh64 are made of what arrived, all in one reading', async () => {
    const id = await receivedCard(rig, 'kinds', new Map([['Sidecar.txt', files.get('Sidecar.txt')!]]));
    const hashes: [string, string][] = [['c4', 'c41QucoCPrx6MvSNFwXxFRQ9SxwbbArZJBYpnMzqSN6bL7YZVNuSjV7Vb51m8pmw2kzjEyHRPrK2tQySZRxhJkv5Bx'], ['sha1', 'f17ddd8c3a650c1357524ec15ce287c45cfa0726'], ['xxh128', 'fa7361aa9bcf6bc0f583feb7224826b4'], ['xxh3', '933ae634cab499c5']];
    await give(id, mhl([{ path: 'Sidecar.txt', hashes }]));
    const proof = await settled(id);
    expect([proof.counts.verified, proof.allReceived]).toEqual([1, true]);
    const { sums } = await rig.db.upload.findFirstOrThrow({ where: { cardId: id } });
    expect(sums).toMatchObject(Object.fromEntries(hashes));
  });
});

describe('a card that is sent', () => {
  it('keeps sound, sidecars and empty files beside its clips, and reads the list found among them', async () => {
    const clip = await smallClip();
    const files: Record<string, Buffer> = { 'DCIM/A_0001.mp4': clip, 'DCIM/A_0001.XML': Buffer.from('<?xml version="1.0"?><clip/>'), 'SOUND/ROOM.WAV': Buffer.alloc(200_000, 3), 'EMPTY.TAG': Buffer.alloc(0) };
    const list = (await Promise.all(Object.entries(files).map(async ([path, bytes]) => `${await xxhash64(bytes)}  ${path}\n`))).join('');
    for (const [path, bytes] of Object.entries(files)) {
      if (bytes.byteLength) await send('B001', `B001/${path}`, bytes);
      else expect((await tus.create({ 'upload-length': '0', 'upload-metadata': `filename ${btoa('EMPTY.TAG')},relativePath ${btoa(`B001/${path}`)},card ${btoa('B001')}` })).status).toBe(201);
    }
    const id = await cardId('B001');
    expect(await proofOf(id)).toMatchObject({ listed: 0, allReceived: false, counts: { extra: 4 } });
    await send('B001', 'B001/card.xxh64', Buffer.from(list));
    const proof = await proofOf(id);
    expect(proof).toMatchObject({ listed: 4, besides: 1, allReceived: true, counts: { verified: 4, extra: 0 } });
    const clips = await rig.db.clip.findMany({ where: { filmId: rig.film, card: 'B001' } });
    expect(clips.map(({ name }) => name)).toEqual(['A_0001.mp4']);
    expect(proof.files.find(({ path }) => path.endsWith('A_0001.mp4'))?.clipId).toBe(clips[0]!.id);
    const kept = await rig.db.upload.findMany({ where: { cardId: id, keptPath: { not: null } }, orderBy: { sourcePath: 'asc' } });
    expect(kept.map(({ keptPath }) => keptPath!.split('/').slice(1).join('/'))).toEqual(['B001/B001/DCIM/A_0001.XML', 'B001/B001/EMPTY.TAG', 'B001/B001/SOUND/ROOM.WAV', 'B001/B001/card.xxh64']);
    expect(readFileSync(rig.ground.storage.path('originals', kept[2]!.keptPath!)).equals(files['SOUND/ROOM.WAV']!)).toBe(true);
  });

  it('again: what is kept already is not kept twice', async () => {
    const sidecar = Buffer.from('<sidecar/>');
    await send('B002', 'B002/x.XML', sidecar);
    await send('B002', 'B002/x.XML', sidecar);
    const kept = await rig.db.upload.findMany({ where: { cardId: await cardId('B002') } });
    expect(new Set(kept.map(({ keptPath }) => keptPath)).size).toBe(1);
  });

  it('a broken clip is refused as before and is missing', async () => {
    const clip = await smallClip();
    const answer = await tus.whole(clip.subarray(0, -30), { card: 'B003', relativePath: 'B003/cut.mp4', filename: 'cut.mp4' });
    expect(answer.status).toBe(422);
    const id = await cardId('B003');
    await give(id, `${await xxhash64(clip)}  cut.mp4\n`);
    const [file] = (await proofOf(id)).files as [CardFile];
    expect(file.state).toBe('missing');
    expect(file.why).toMatch(/^It was refused: The file ends/);
  });

  it('the same bytes under another name count as here, and the page is told where', async () => {
    const clip = await smallClip();
    await send('B004', 'B004/one.mp4', clip);
    const id = await cardId('B004');
    const sum = await xxhash64(clip);
    await give(id, `${sum}  one.mp4\n${sum}  copy.mp4\n`);
    const proof = await proofOf(id);
    expect(proof.allReceived).toBe(true);
    expect(proof.files.map(({ why }) => why).filter(Boolean)).toEqual(['The same bytes are in the film already, as one.mp4.']);
  });

  it('a list given first: files arrive, are given its checksums, and are verified one by one', async () => {
    const { body: card } = await rig.as('field').post(rig.at('/cards'), { name: 'B005' });
    const [one, two] = [await smallClip(), Buffer.from('sidecar')];
    const md5 = (bytes: Buffer) => execFileSync('md5sum', { input: bytes, encoding: 'utf8' }).slice(0, 32);
    await give(card.id, `${md5(one)}  DCIM/one.mp4\n${md5(two)} *DCIM/two.xml\n`);
    expect(await proofOf(card.id)).toMatchObject({ counts: { missing: 2 }, allReceived: false });
    await send('B005', 'B005/DCIM/one.mp4', one);
    await eventually(async () => expect(await proofOf(card.id)).toMatchObject({ counts: { verified: 1, missing: 1 } }));
    await send('B005', 'B005/DCIM/two.xml', two);
    await eventually(async () => expect(await proofOf(card.id)).toMatchObject({ counts: { verified: 2, missing: 0 }, allReceived: true }));
  });

  it('accents in either spelling and paths with either stroke are one name', async () => {
    const sidecar = Buffer.from('tide');
    await send('B006', 'B006/Übersicht/Gezeiten.xml', sidecar);
    const id = await cardId('B006');
    await give(id, `${await xxhash64(sidecar)}  ${'Übersicht\\Gezeiten.xml'.normalize('NFD')}\n`);
    expect((await proofOf(id)).allReceived).toBe(true);
  });

  it('a damaged list found on the card is told, and nothing is called received', async () => {
    const sidecar = Buffer.from('x');
    await send('B007', 'B007/x.xml', sidecar);
    await send('B007', 'B007/good.xxh64', Buffer.from(`${await xxhash64(sidecar)}  x.xml\n`));
    const id = await cardId('B007');
    expect((await proofOf(id)).allReceived).toBe(true);
    await send('B007', 'B007/ascmhl/0001_B007_2026-05-30_101500Z.mhl', Buffer.from(mhl([{ path: 'x.xml', hashes: [['xxh64', 'ef46db3751d8e999']] }]).slice(0, -20)));
    expect(await proofOf(id)).toMatchObject({ unread: 1, allReceived: false });
    const { body: cards } = await rig.as('field').get(rig.at('/cards'));
    const failed = cards.find((card: { id: string }) => card.id === id).manifests.find((one: { state: string }) => one.state === 'failed');
    expect(failed.failure.code).toBe('manifest-damaged');

    expect((await rig.as('field').del(rig.at(`/cards/${id}/manifests/${failed.id}`))).status).toBe(403);
    expect((await rig.as('assistant').del(rig.at(`/cards/${id}/manifests/${failed.id}`))).status).toBe(200);
    expect((await proofOf(id)).allReceived).toBe(true);
    await rig.as('assistant').post(rig.at(`/cards/${id}/manifests/${failed.id}/restore`));
    expect((await proofOf(id)).allReceived).toBe(false);
  });
});

describe('refused', () => {
  it.each([
    ['no list', 'Dear Maren', 415, 'manifest-unknown'],
    ['a path out of the card', 'f5ac8127b3b6b85cdc13f237c6005d80  ../x\n', 422, 'manifest-path'],
    ['nothing', '', 400, 'bad-input'],
  ])('%s: coded, and nothing is written', async (_, text, status, code) => {
    const { body: card } = await rig.as('field').post(rig.at('/cards'), { name: 'refusals' });
    const answer = await give(card.id, text);
    expect([answer.status, answer.body.code]).toEqual([status, code]);
    expect(await rig.db.manifest.count({ where: { cardId: card.id } })).toBe(0);
  });

  it('a card of another film, and a name of blanks', async () => {
    expect((await give('none', 'f5ac8127b3b6b85cdc13f237c6005d80  x\n')).status).toBe(404);
    expect((await rig.as('field').post(rig.at('/cards'), { name: '  ' })).body.code).toBe('bad-input');
  });

  it('the very same list twice counts once; one whose list is back already cannot be brought back', async () => {
    const { body: card } = await rig.as('field').post(rig.at('/cards'), { name: 'twice' });
    const text = 'f5ac8127b3b6b85cdc13f237c6005d80  x\n';
    await give(card.id, text);
    const { body } = await give(card.id, text, 'the same');
    expect(body.manifests).toHaveLength(1);
    const [list] = body.manifests;
    await rig.as('editor').del(rig.at(`/cards/${card.id}/manifests/${list.id}`));
    await give(card.id, text);
    const answer = await rig.as('editor').post(rig.at(`/cards/${card.id}/manifests/${list.id}/restore`));
    expect([answer.status, answer.body.code]).toEqual([409, 'same-list']);
  });
});
