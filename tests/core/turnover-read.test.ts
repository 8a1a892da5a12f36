// Cuts that come back: what was handed over is found again to the frame, what an editor does to it is said, and what no
// honest file holds is refused.
import { describe, expect, it } from 'vitest';
import { rate } from '#core/rate.ts';
import { Refusal } from '../../server/platform/errors.ts';
import { editLists } from '../../server/turnover/files/edit-list.ts';
import { stringOutOtio } from '../../server/turnover/files/otio.ts';
import { compareCut } from '../../server/turnover/read/compare.ts';
import { readCut } from '../../server/turnover/read/index.ts';
import type { TurnoverInput } from '../../server/turnover/input.ts';
import { clipOf, FILMS, hardFilm, inputOf } from '../fixtures/turnover/input.ts';

const P25 = { rate: rate(25), drop: false };
const read = (text: string, film = P25) => readCut([{ name: 'cut', text }], film);
const codeOf = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    if (error instanceof Refusal) return `${error.code} ${error.fields[0]?.field ?? ''}`.trim();
    throw error;
  }
  return 'read';
};
/** Per slot: what became of it, by how many frames it begins earlier and ends later. */
const became = (input: TurnoverInput, text: string | string[]) =>
  compareCut(input, readCut([text].flat().map((one, n) => ({ name: `${n}`, text: one })), input.film)).slots.map(({ is, head, tail, now, was, pieces, moved }) => [is, head, tail, now - was, pieces, moved]);
const NOTHING_ELSE = [['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false], ['was-empty', 0, 0, 0, 0, false], ['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false]];

describe.each(FILMS)('at $name', (film) => {
  const input = hardFilm(film);
  it('finds all of it again in both, to the frame, and nothing else', () => {
    expect(became(input, stringOutOtio(input).text)).toEqual(NOTHING_ELSE);
    expect(became(input, editLists(input).map(({ text }) => text))).toEqual(NOTHING_ELSE);
    expect(compareCut(input, readCut([{ name: 'a', text: stringOutOtio(input).text }], input.film))).toMatchObject({ added: [], title: input.film.title, frames: input.stretches.at(-1)!.film.outExclusive });
  });

  it('finds it without our own words too: by name, by reel, by timecode', () => {
    const bare = JSON.parse(stringOutOtio(input).text, (key, value) => (key === 'metadata' ? {} : value));
    expect(became(input, JSON.stringify(bare))).toEqual(NOTHING_ELSE);
    const list = editLists(input)[0]!.text;
    expect(became(input, list.replaceAll(/^\* OFFER.*$/gm, '*'))).toEqual(NOTHING_ELSE);
    expect(became(input, list.replaceAll(/^\*.*$/gm, '*'))).toEqual(NOTHING_ELSE);
  });
});

describe('what an editor does', () => {
  const clip = clipOf('A001C001.mov', { rate: rate(25), start: '10:00:00:00', reel: 'A001' });
  const other = clipOf('A001C002.mov', { rate: rate(25), start: '11:00:00:00', reel: 'A001' });
  const input = inputOf({ rate: rate(25) }, [
    { name: 'Boots', take: { clip, in: 100, outExclusive: 150 } },
    { name: 'Gulls', take: { clip: other, in: 0, outExclusive: 50 } },
    { name: 'Causeway', take: { clip, in: 500, outExclusive: 600 } },
  ]);
  const list = (...events: string[]) => ['TITLE: CUT 2', 'FCM: NON-DROP FRAME', ...events].join('\n');
  const BOOTS = '001  A001     V     C        10:00:04:00 10:00:06:00 01:00:00:00 01:00:02:00';
  const GULLS = '002  A001     V     C        11:00:00:00 11:00:02:00 01:00:02:00 01:00:04:00';
  const WAY = '003  A001     V     C        10:00:20:00 10:00:24:00 01:00:04:00 01:00:08:00';

  it.each([
    ['leaves it alone', [BOOTS, GULLS, WAY], [['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false]]],
    ['takes a shot out', [BOOTS, WAY.replace('01:00:04:00 01:00:08:00', '01:00:02:00 01:00:06:00')], [['in', 0, 0, 0, 1, false], ['gone', 0, 0, -50, 0, false], ['in', 0, 0, 0, 1, false]]],
    ['begins earlier and ends later', ['001  A001     V     C        10:00:03:20 10:00:06:10 01:00:00:00 01:00:02:15'], [['in', 5, 10, 15, 1, false], ['gone', 0, 0, -50, 0, false], ['gone', 0, 0, -100, 0, false]]],
    ['cuts one in two', ['001  A001     V     C        10:00:04:00 10:00:04:20 01:00:00:00 01:00:00:20', '002  A001     V     C        10:00:05:00 10:00:06:00 01:00:01:00 01:00:02:00'], [['in', 0, 0, -5, 2, false], ['gone', 0, 0, -50, 0, false], ['gone', 0, 0, -100, 0, false]]],
    ['changes the order', [WAY.replace('01:00:04:00 01:00:08:00', '00:59:00:00 00:59:04:00'), BOOTS, GULLS], [['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, false], ['in', 0, 0, 0, 1, true]]],
    ['takes another stretch of the clip', [GULLS.replace('11:00:00:00 11:00:02:00', '11:00:30:00 11:00:32:00') + '\n* FROM CLIP NAME: A001C002.MXF'], [['gone', 0, 0, -50, 0, false], ['other-stretch', -750, 750, 0, 1, false], ['gone', 0, 0, -100, 0, false]]],
  ])('is said when one %s', (_, events, expected) => {
    expect(became(input, list(...events))).toEqual(expected);
  });

  it('is told apart from what is new, and from sound', () => {
    const cut = compareCut(input, read(list(BOOTS, '002  STOCK7   V     C        00:00:10:00 00:00:11:00 01:00:02:00 01:00:03:00', '003  A001     AA    C        10:00:04:00 10:00:06:00 01:00:00:00 01:00:02:00')));
    expect(cut.added).toEqual([{ name: '', reel: 'STOCK7', recordIn: '01:00:02:00', frames: 25 }]);
    expect(cut.slots[0]).toMatchObject({ pieces: 1, recordIn: '01:00:00:00' });
  });

  it('is said of a shot at another speed', () => {
    expect(compareCut(input, read(list('001  A001     V     C        10:00:04:00 10:00:06:00 01:00:00:00 01:00:04:00', 'M2   A001       012.5                10:00:04:00'))).slots[0]).toMatchObject({ speed: true, now: 100, was: 50 });
  });
});

// Values of the lists and the timeline that OpenTimelineIO tests its readers with (github AcademySoftwareFoundation/
// OpenTimelineIO, tests/sample_data, Apache-2.0), which files outside of ours these are; only the lines that are read.
describe('files that others wrote', () => {
  const lines = (...events: string[]) => ['TITLE: SQ0002_A2', 'FCM: NON-DROP FRAME', ...events].join('\n');
  // 25fps.edl: 4 events, 496 frames: 161, 200, 86, 49.
  const P25_LIST = lines(
    '001  SC00.JPG V     C        01:00:00:00 01:00:06:11 00:00:00:00 00:00:06:11', '* FROM CLIP NAME:  sq001_s001',
    '002  SC00.JPG V     C        01:00:00:00 01:00:08:00 00:00:06:11 00:00:14:11', '* FROM CLIP NAME:  sq001_s002',
    '003  SC00.JPG V     C        01:00:00:00 01:00:03:11 00:00:14:11 00:00:17:22', '* FROM CLIP NAME:  sq001_s003',
    '004  SC00.JPG V     C        01:00:00:00 01:00:01:24 00:00:17:22 00:00:19:21', '* FROM CLIP NAME:  sq001_s004',
  );
  it('reads 25fps.edl', () => {
    const cut = read(P25_LIST);
    expect([cut.title, cut.frames]).toEqual(['SQ0002_A2', 496]);
    expect(cut.events.map(({ names, record }) => [names[0], record.outExclusive - record.in])).toEqual([['sq001_s001', 161], ['sq001_s002', 200], ['sq001_s003', 86], ['sq001_s004', 49]]);
  });

  it('reads gap_test.edl with its gaps, and a transition of dissolve_test.edl', () => {
    const P24 = { rate: rate(24), drop: false };
    const gaps = read(lines('001  SHOT1    V     C        00:10:00:00 00:10:01:00 00:00:00:00 00:00:01:00 ', 'FROM CLIP NAME: shot1', '002  SHOT2    V     C        23:00:00:00 23:00:01:00 00:00:01:16 00:00:02:16 ', '003  SHOT3    V     C        10:00:00:00 10:00:01:00 00:00:04:06 00:00:05:06 '), P24);
    expect(gaps.events.map(({ record }) => [record.in, record.outExclusive])).toEqual([[0, 24], [40, 64], [102, 126]]);
    const dissolve = ['001  TST V     C        01:00:04:05 01:00:04:14 01:00:00:00 01:00:00:09 ', '002  TST V     C        01:00:04:14 01:00:04:14 01:00:00:09 01:00:00:09 ', '002  TST V     D    010 01:00:08:08 01:00:08:18 01:00:00:09 01:00:00:19 ', '* FROM CLIP NAME:  clip_A', '* TO CLIP NAME:  clip_B', '003  TST V     C        01:00:08:18 01:00:08:19 01:00:00:19 01:00:00:20 '];
    expect(read(lines(...dissolve), P24).events.map(({ names, record }) => [names, record.in, record.outExclusive])).toEqual([[[], 0, 9], [['clip_B'], 9, 19], [[], 19, 20]]);
    // dissolve_test_fail.edl and timecode_mismatch.edl, which that reader refuses too.
    expect(codeOf(() => read(lines(...dissolve.map((line, n) => (n === 1 ? line.replace('002', '001') : line))), P24))).toBe('cut-damaged line 4');
    expect(codeOf(() => read(P25_LIST.replace('00:00:19:21', '00:00:19:19')))).toBe('cut-damaged line 9');
  });

  it('reads clip_example.otio, which has the older kind of clip: 19 frames', () => {
    const at = (value: number) => ({ OTIO_SCHEMA: 'RationalTime.1', rate: 24, value });
    const range = (start: number, length: number) => ({ OTIO_SCHEMA: 'TimeRange.1', start_time: at(start), duration: at(length) });
    const gap = { OTIO_SCHEMA: 'Gap.1', name: 'Gap A', source_range: range(0, 8) };
    const clip = { OTIO_SCHEMA: 'Clip.1', name: 'Clip-001', media_reference: { OTIO_SCHEMA: 'MissingReference.1', available_range: range(0, 8), name: null }, source_range: range(3, 3) };
    const transition = { OTIO_SCHEMA: 'Transition.1', name: 'Dissolve', transition_type: 'SMPTE_Dissolve', in_offset: at(2), out_offset: at(1) };
    const track = { OTIO_SCHEMA: 'Track.1', kind: 'Video', name: 'Track-001', source_range: null, children: [gap, clip, transition, gap] };
    const root = { OTIO_SCHEMA: 'Timeline.1', name: 'transition_test', tracks: { OTIO_SCHEMA: 'Stack.1', name: 'tracks', source_range: null, children: [track] } };
    const cut = read(JSON.stringify(root), { rate: rate(24), drop: false });
    expect(cut.frames).toBe(19);
    expect(cut.events).toMatchObject([{ names: ['Clip-001'], record: { in: 8, outExclusive: 11 }, source: { frame: 3, mediaStart: 0 } }]);
    // The same inside of another stack that shows frames 9 to 15 only.
    const nested = { ...root, tracks: { ...root.tracks, children: [{ ...track, children: [gap, { ...root.tracks, source_range: range(9, 6) }] }] } };
    expect(read(JSON.stringify(nested), { rate: rate(24), drop: false })).toMatchObject({ frames: 14, events: [{ record: { in: 8, outExclusive: 10 }, source: { frame: 4 } }] });
  });
});

describe('what is refused', () => {
  const good = () => JSON.parse(stringOutOtio(hardFilm(FILMS[2]!)).text);
  const film = hardFilm(FILMS[2]!).film;
  const changed = (change: (root: any) => void) => {
    const root = good();
    change(root);
    return codeOf(() => read(JSON.stringify(root), film));
  };
  it.each<[string, string, (root: any) => void]>([
    ['a clip of a later version', 'cut-schema tracks.children[0].children[0]', (root) => (root.tracks.children[0].children[0].OTIO_SCHEMA = 'Clip.3')],
    ['a timeline of a later version', 'cut-schema cut', (root) => (root.OTIO_SCHEMA = 'Timeline.2')],
    ['a schema of somebody else', 'cut-schema tracks.children[0].children[1]', (root) => (root.tracks.children[0].children[1].OTIO_SCHEMA = 'constructor.1')],
    ['a root that is no timeline', 'cut-unknown cut', (root) => (root.OTIO_SCHEMA = 'Track.1')],
    ['no schema at all', 'cut-unknown cut', (root) => delete root.OTIO_SCHEMA],
    ['another rate', 'cut-rate global_start_time', (root) => (root.global_start_time.rate = 24)],
    ['a rate of nothing', 'cut-damaged tracks.children[0].children[0].source_range.duration.rate', (root) => (root.tracks.children[0].children[0].source_range.duration.rate = 0)],
    ['a length of nothing and less', 'cut-damaged tracks.children[0].children[0].source_range.duration', (root) => (root.tracks.children[0].children[0].source_range.duration.value = -4)],
    ['a length in words', 'cut-damaged tracks.children[0].children[0].source_range.duration.value', (root) => (root.tracks.children[0].children[0].source_range.duration.value = '4')],
    ['children that are none', 'cut-damaged tracks.children[0]', (root) => (root.tracks.children[0].children = { length: 1e9 })],
    ['no picture', 'cut-damaged cut', (root) => root.tracks.children.splice(0, 1)],
    ['more items than any cut has', 'cut-damaged tracks.children[0].children[19999]', (root) => (root.tracks.children[0].children = Array.from({ length: 25_000 }, () => root.tracks.children[0].children[2]))],
  ])('%s', (_, code, change) => {
    expect(changed(change)).toBe(code);
  });

  it('what is nested without end, cut short, or no cut at all', () => {
    let deep = '{"OTIO_SCHEMA":"Gap.1"}';
    for (let n = 0; n < 40; n++) deep = `{"OTIO_SCHEMA":"Track.1","kind":"Video","children":[${deep}]}`;
    expect(codeOf(() => read(`{"OTIO_SCHEMA":"Timeline.1","tracks":{"OTIO_SCHEMA":"Stack.1","children":[${deep}]}}`))).toMatch(/^cut-damaged tracks\.children\[0\]/);
    expect(codeOf(() => read('['.repeat(3_000_000)))).toBe('cut-damaged cut');
    expect(codeOf(() => read(JSON.stringify(good()).slice(0, -200), film))).toBe('cut-damaged cut');
    expect(codeOf(() => read('{"__proto__":{"OTIO_SCHEMA":"Timeline.1"}}'))).toBe('cut-unknown cut');
    expect(codeOf(() => read('[1]'))).toBe('cut-unknown cut');
    // Entities that would grow without end, were they ever read.
    expect(codeOf(() => read('<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]><xmeml>&b;</xmeml>'))).toBe('cut-unknown cut');
    expect(codeOf(() => read(' '.repeat(40 * 1024 * 1024)))).toBe('too-large');
    expect(codeOf(() => readCut([{ name: 'a', text: JSON.stringify(good()) }, { name: 'b', text: 'TITLE: B' }], film))).toBe('cut-unknown b');
  });

  const event = '001  A001     V     C        10:00:04:00 10:00:06:00 01:00:00:00 01:00:02:00';
  it.each([
    ['an event that is none', `TITLE: X\n001  A001     V     C        10:00:04:00 10:00:06:00 01:00:00:00`, 'cut-damaged line 2'],
    ['frames the rate does not have', `TITLE: X\n${event.replace('10:00:04:00', '10:00:04:29')}`, 'cut-rate line 2'],
    ['drop-frame at a rate without', `TITLE: X\nFCM: DROP FRAME\n${event}`, 'cut-rate line 2'],
    ['a drop-frame label at a rate without', `TITLE: X\n${event.replace('10:00:04:00', '10:00:04;00')}`, 'cut-rate line 2'],
    ['an hour no day has', `TITLE: X\n${event.replace('10:00:04:00', '25:00:04:00')}`, 'cut-damaged line 2'],
    ['events on top of each other', `TITLE: X\n${event}\n${event.replace('001 ', '002 ')}`, 'cut-damaged line 3'],
    ['nothing', 'TITLE: X\nFCM: NON-DROP FRAME\n', 'cut-damaged cut'],
    ['a line without end', `TITLE: X\n* ${'x'.repeat(5000)}`, 'cut-damaged line 2'],
    ['a transition from nothing', `TITLE: X\n${event.replace('C  ', 'D  ').replace('       10', '   010 10')}`, 'cut-damaged line 2'],
  ])('of lists: %s', (_, text, code) => {
    expect(codeOf(() => read(text))).toBe(code);
  });

  it('reads FCM: DROP FRAME with ":" as drop-frame, as some rooms write it', () => {
    const drop = { rate: rate(30000, 1001), drop: true };
    // 00:00:59;28 to 00:01:00;03 are 3 frames: ;00 and ;01 do not exist (SMPTE ST 12-1).
    const cut = read('TITLE: X\nFCM: DROP FRAME\n001  A001     V     C        00:00:59:28 00:01:00:03 01:00:59:28 01:01:00:03', drop);
    expect(cut.frames).toBe(3);
  });
});
