// The turnover, read back by readers that know nothing of us: a CSV and a WebVTT reader written from their standards here,
// edit lists by column, OpenTimelineIO by its fields.
import { execFileSync } from 'node:child_process';
import { unzipSync } from 'fflate';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { dayFrames, formatTimecode, parseTimecode } from '#core/timecode.ts';
import { filesOf, startOf, zipOf, type MadeFile } from '../../server/turnover/files/index.ts';
import { readInput, type TurnoverInput } from '../../server/turnover/input.ts';
import { reelsOf } from '../../server/turnover/reels.ts';
import type { Turnover } from '../../server/turnover/contract.ts';
import { addClip } from '../fixtures/clips.ts';
import { addTrack, addMark } from '../fixtures/music.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { addItem } from '../fixtures/slots.ts';

let rig: Rig;
const offers: string[] = [];
const slots: string[] = [];
const HOUR = 3600;
/** Clips of every rate, one over midnight, one whose name needs escaping. */
const CLIPS = [
  { name: 'A001C001.mov', num: 24000, den: 1001, drop: false, start: 10 * HOUR * 24, reel: 'A001', range: { in: 40, outExclusive: 88 } },
  { name: 'B, “wide” = 2.mov', num: 25, den: 1, drop: false, start: 24 * HOUR * 25 - 50, reel: 'B001-long-name', range: { in: 30, outExclusive: 80 } },
  { name: 'C001.mov', num: 30000, den: 1001, drop: true, start: 17982 * 60 - 10, reel: null, range: { in: 5, outExclusive: 35 } },
  { name: 'D001.mp4', num: 50, den: 1, drop: false, start: 0, reel: 'B001-long-other', range: { in: 11, outExclusive: 61 } },
  { name: 'E001.mp4', num: 60000, den: 1001, drop: true, start: 0, reel: '', range: { in: 0, outExclusive: 120 } },
];

beforeAll(async () => {
  rig = await startRig();
  const editor = rig.as('editor');
  await rig.db.film.update({ where: { id: rig.film }, data: { title: 'The Last Ferry / “cut”', targetFrames: 240 } });
  const part = await addItem(rig, 'part', 'The crossing');
  for (const [n, clip] of CLIPS.entries()) {
    const row = await addClip(rig, { name: clip.name, rateNum: clip.num, rateDen: clip.den, dropFrame: clip.drop, startFrame: clip.start, frames: 140, reel: clip.reel, card: `CARD ${n}`, camera: 'AB'[n % 2]!, shootDay: new Date('2026-05-29'), width: 1920, height: 1080 });
    const slot = await addItem(rig, 'slot', `Slot ${n}, "quoted"`, part.id);
    slots.push(slot.id);
    const select = (await editor.post(rig.at('/selects'), { clipId: row.id, ...clip.range, circled: n === 0, label: n === 1 ? '=SUM(1)' : '' })).body;
    offers.push((await editor.post(rig.at('/offers'), { slotId: slot.id, selectId: select.id })).body.id);
  }
  await addItem(rig, 'slot', 'Nothing yet', part.id);
  await rig.as('director').post(rig.at(`/offers/${offers[0]}/verdict`), { verdict: 'approve', decisions: 0 });
  await editor.post(rig.at('/notes'), { offerId: offers[0], in: 50, outExclusive: 55, text: 'Hold <this>\n\nlonger & wider' });
  const track = await addTrack(rig, { title: 'Tide', locked: true, rights: 'missing' });
  await addMark(rig, track, 1500, { kind: 'turn', name: 'The water comes' });
});
afterAll(() => rig.close());

const inputAs = async (film: Partial<TurnoverInput['film']> = {}): Promise<TurnoverInput> => {
  const input = await readInput(rig.db, rig.film);
  return { ...input, film: { ...input.film, ...film } };
};
const text = (files: MadeFile[], name: string): string => files.find((file) => file.name === name)!.text;

/** RFC 4180, section 2, as a reader of its own. */
function readCsv(of: string): string[][] {
  const rows: string[][] = [[]];
  for (let at = 0; at < of.length; ) {
    let value = '';
    if (of[at] === '"') {
      for (at += 1; of[at] !== '"' || of[at + 1] === '"'; at += of[at] === '"' ? 2 : 1) value += of[at];
      at += 1;
    } else for (; at < of.length && of[at] !== ',' && of[at] !== '\r'; at++) value += of[at];
    rows.at(-1)!.push(value);
    if (of[at] === ',') at += 1;
    else {
      expect(of.slice(at, at + 2)).toBe('\r\n');
      at += 2;
      if (at < of.length) rows.push([]);
    }
  }
  return rows;
}

describe('an edit list', () => {
  it.each([
    ['24000/1001', { rate: { num: 24000, den: 1001 }, drop: false }],
    ['25', { rate: { num: 25, den: 1 }, drop: false }],
    ['30000/1001 drop', { rate: { num: 30000, den: 1001 }, drop: true }],
    ['60000/1001', { rate: { num: 60000, den: 1001 }, drop: false }],
  ])('at %s has fixed columns, exclusive outs, lengths that agree, and every take where the film has it', async (_, film) => {
    const input = await inputAs(film);
    const list = text(filesOf(input, 12), 'string-out.edl');
    expect(list).toMatch(/^[\x20-\x7e\r\n]*$/);
    const lines = list.split('\r\n');
    expect(lines[1]).toBe(`FCM: ${film.drop ? 'DROP FRAME' : 'NON-DROP FRAME'}`);
    // Columns: facts of two independent readers, shared/facts/vectors.md 3.1.
    const events = lines.filter((line) => /^\d{3} {2}/.test(line)).map((line) => ({ length: line.length, number: line.slice(0, 3), reel: line.slice(5, 13).trim(), channels: line.slice(14, 18).trim(), cut: line.slice(20, 24).trim(), times: [29, 41, 53, 65].map((at) => line.slice(at, at + 11)) }));
    expect(events.map(({ length, channels, cut }) => [length, channels, cut])).toEqual(events.map(() => [76, 'V', 'C']));
    expect(events.map(({ number }) => Number(number))).toEqual([1, 2, 3, 4, 5, 6]);
    const reels = reelsOf(input.sources);
    let record = startOf(input);
    for (const [n, event] of events.entries()) {
      const shot = input.shots[n]!;
      if (film.drop) for (const time of event.times) expect(time).toMatch(/^\d\d:\d\d:\d\d;\d\d$/);
      const [sourceIn, sourceOut, recordIn, recordOut] = event.times.map((time) => parseTimecode(time, film.rate, { drop: film.drop }).frame as number);
      const day = dayFrames(film.rate, film.drop);
      expect([recordIn, recordOut! - recordIn!]).toEqual([record, shot.film.outExclusive - shot.film.in]);
      expect((((sourceOut! - sourceIn!) % day) + day) % day).toBe(recordOut! - recordIn!);
      record = recordOut!;
      expect(event.reel).toBe(shot.take ? reels.get(shot.take.source.clip.id) : 'BL');
    }
  });

  it('gives every reel a name of its own of eight capitals and digits', async () => {
    const reels = reelsOf((await inputAs()).sources);
    expect([...reels.values()].every((reel) => /^[A-Z0-9]{1,8}$/.test(reel))).toBe(true);
    expect(new Set(reels.values()).size).toBe(5);
    expect([...reels.values()].sort()).toEqual(['A001', 'B001LON2', 'B001LONG', 'CARD2', 'CARD4']);
  });

  it('is split after 999 events, and takes 2,000 shots', async () => {
    const input = await inputAs();
    const many = { ...input, shots: Array.from({ length: 2000 }, (_, n) => ({ ...input.shots[n % 5]!, film: { in: n * 10, outExclusive: n * 10 + 10 } })) };
    const files = filesOf(many, 12);
    expect(files.filter(({ name }) => name.endsWith('.edl')).map(({ name, text: of }) => [name, of.match(/^\d{3} {2}/gm)!.length])).toEqual([['string-out-1.edl', 999], ['string-out-2.edl', 999], ['string-out-3.edl', 2]]);
  });
});

describe('OpenTimelineIO', () => {
  it('has every take on the timecode of its source, at the rate of its source, and the film as long as it is', async () => {
    const input = await inputAs();
    const otio = JSON.parse(text(filesOf(input, 12), 'string-out.otio'));
    expect(otio.OTIO_SCHEMA).toBe('Timeline.1');
    expect(otio.global_start_time).toEqual({ OTIO_SCHEMA: 'RationalTime.1', value: HOUR * 24, rate: 24000 / 1001 });
    const [track] = otio.tracks.children;
    const seconds = track.children.map(({ source_range: { duration } }: { source_range: { duration: { value: number; rate: number } } }) => duration.value / duration.rate);
    expect(seconds.reduce((sum: number, one: number) => sum + one, 0)).toBeCloseTo((input.film.frames * 1001) / 24000, 9);
    for (const [n, { num, den, start, range }] of CLIPS.entries()) {
      const { source_range: lies, OTIO_SCHEMA: schema } = track.children[n];
      expect([schema, lies.start_time]).toEqual(['Clip.2', { OTIO_SCHEMA: 'RationalTime.1', value: start + range.in, rate: num / den }]);
    }
    expect(track.children[5].OTIO_SCHEMA).toBe('Gap.1');
    expect(track.children[0].markers[0]).toMatchObject({ OTIO_SCHEMA: 'Marker.2', color: 'BLUE', comment: 'Hold <this>\n\nlonger & wider', marked_range: { start_time: { value: 10 * HOUR * 24 + 50 }, duration: { value: 5 } } });
    expect(track.markers[0]).toMatchObject({ name: 'The water comes', marked_range: { start_time: { value: 36 } } });
  });

  it('has all selects by shoot day and camera', async () => {
    const otio = JSON.parse(text(filesOf(await inputAs(), 12), 'selects.otio'));
    expect(otio.children.map(({ name, tracks }: { name: string; tracks: { children: { children: unknown[] }[] } }) => [name, tracks.children[0]!.children.length])).toEqual([['2026-05-29 A', 3], ['2026-05-29 B', 2]]);
  });

  it('names the camera original, with its own timecode, where one is matched', async () => {
    const other = await addClip(rig, { name: 'F001C001.mov', card: 'F001', startFrame: 500, frames: 140, rateNum: 25, rateDen: 1, dropFrame: false, probe: { startTimecode: '00:00:20:00' } });
    const table = 'name,reel,start timecode,rate,frames\r\nF001C001.mov,F001R1,00:00:20:00,25,140\r\n';
    expect((await rig.as('assistant').post(rig.at('/originals/lists'), { card: 'F001', name: 'f.csv', text: table })).status).toBe(200);
    const input = await inputAs();
    const source = input.sources.find(({ clip }) => clip.id === other.id)!;
    expect(source).toMatchObject({ original: 'matched', reel: 'F001R1', card: 'F001', startFrame: 500, offset: 0, frames: 140 });
  });
});

it('writes tables that another reader takes apart again, and no formula for a spreadsheet to run', async () => {
  const input = await inputAs();
  const files = filesOf(input, 12);
  const [head, ...rows] = readCsv(text(files, 'picks.csv'));
  expect(rows).toHaveLength(6);
  const column = (name: string) => rows.map((row) => row[head!.indexOf(name)]);
  expect(column('slot')).toEqual([0, 1, 2, 3, 4].map((n) => `Slot ${n}, "quoted"`).concat('Nothing yet'));
  expect(column('source in').slice(0, 5)).toEqual(CLIPS.map(({ start, range, num, den, drop }) => formatTimecode(start + range.in, { num, den }, { drop })));
  expect(column('state')).toEqual(['approved', 'offered', 'offered', 'offered', 'offered', 'empty']);
  expect(readCsv(text(files, 'selects.csv')).map((row) => row[3])).toContain(' =SUM(1)');
  const pull = readCsv(text(files, 'pull-list.csv'));
  expect(pull[1]!.slice(5, 8)).toEqual([formatTimecode(10 * HOUR * 24 + 28, { num: 24000, den: 1001 }), formatTimecode(10 * HOUR * 24 + 100, { num: 24000, den: 1001 }), '72']);
});

it('puts notes and marks on the time of the film as WebVTT, with nothing in them that could be read as a tag', async () => {
  const files = filesOf(await inputAs(), 12);
  // WebVTT, section 4.1: the signature, blocks parted by an empty line, a line of times, the text.
  const cues = (of: string) => of.split('\n\n').slice(1).map((block) => block.trim().split('\n')).filter(([times]) => times);
  expect(text(files, 'notes.vtt').startsWith('WEBVTT\n\n')).toBe(true);
  // Frame 50 of the clip is the eleventh of the film: 10 × 1001 / 24000 s.
  expect(cues(text(files, 'notes.vtt'))).toEqual([['00:00:00.417 --> 00:00:00.626', 'Slot 0, "quoted"', 'Test editor: Hold &lt;this&gt;', 'longer &amp; wider']]);
  expect(cues(text(files, 'marks.vtt'))).toEqual([['00:00:01.500 --> 00:00:03.500', 'turn: The water comes']]);
});

it('is the same bytes for the same film, in an archive whose checksums are right', async () => {
  const ask = async () => Buffer.from(await (await rig.as('assistant').fetch(rig.at('/turnover/package.zip'))).arrayBuffer());
  const [one, two] = [await ask(), await ask()];
  expect(one.equals(two)).toBe(true);
  const input = await inputAs();
  expect(Buffer.from(zipOf(filesOf(input, 12), input.at)).equals(one)).toBe(true);
  const files = unzipSync(new Uint8Array(one));
  const sums = Buffer.from(files['sha256sum.txt']!).toString();
  for (const line of sums.trim().split('\n')) {
    const [sum, name] = line.split('  ') as [string, string];
    expect(execFileSync('sha256sum', { input: files[name]! }).toString().slice(0, 64)).toBe(sum);
  }
  expect(Object.keys(files)).toHaveLength(11);
});

it('says what stands in the way, shot by shot', async () => {
  const { remarks, shots, picks, files }: Turnover = (await rig.as('editor').get(rig.at('/turnover'))).body;
  expect([shots, picks, files.length]).toEqual([6, 1, 10]);
  const of = (kind: string) => remarks.filter((remark) => remark.kind === kind).length;
  expect([of('empty-slot'), of('undecided'), of('no-original'), of('rate'), of('rights'), of('open-notes')]).toEqual([1, 4, 5, 4, 1, 1]);
  // Two begin or end less than twelve frames from an end of their clip.
  expect(remarks.filter(({ kind }) => kind === 'handles').map(({ words }) => words.slice(4, 10))).toEqual(['Slot 2', 'Slot 3', 'Slot 4']);
  expect((await rig.as('editor').get(rig.at('/turnover?handles=0'))).body.remarks.filter(({ kind }: { kind: string }) => kind === 'handles')).toEqual([]);
});

it('refuses who may not turn over, a file there is none of, and handles that are none', async () => {
  expect((await rig.as('viewer').get(rig.at('/turnover'))).body.code).toBe('not-allowed');
  expect((await rig.as('field').get(rig.at('/turnover/package.zip'))).body.code).toBe('not-allowed');
  expect((await rig.as('editor').get(rig.at('/turnover/files/none.edl'))).body.code).toBe('not-found');
  expect((await rig.as('editor').get(rig.at('/turnover/files/..%2Fx'))).body.code).toBe('bad-input');
  expect((await rig.as('editor').get(rig.at('/turnover?handles=-1'))).body.code).toBe('bad-input');
  const edl = await rig.as('editor').get(rig.at('/turnover/files/string-out.edl'));
  expect([edl.headers.get('content-disposition'), edl.body.startsWith('TITLE: The Last Ferry / "cut"')]).toEqual(['attachment; filename="string-out.edl"', true]);
});
