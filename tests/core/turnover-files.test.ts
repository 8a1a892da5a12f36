// Files of a turnover, opened by readers that are not ours. Times are compared with what plays, counted by smpte-timecode.
import { readFileSync } from 'node:fs';
import { parse } from 'csv-parse/sync';
import smpteTimecode from 'smpte-timecode';
import { WebVTTParser } from 'webvtt-parser';
import { describe, expect, it } from 'vitest';
import { conformedLength } from '#core/string-out.ts';
import type { Rate } from '#core/rate.ts';
import { editLists } from '../../server/turnover/files/edit-list.ts';
import { makeFiles } from '../../server/turnover/files/index.ts';
import { stringOutOtio, selectsOtio } from '../../server/turnover/files/otio.ts';
import { reelNames } from '../../server/turnover/files/reels.ts';
import type { TurnoverInput } from '../../server/turnover/input.ts';
import { clipOf, FILMS, HARD_NAMES, hardFilm, inputOf } from '../fixtures/turnover/input.ts';
import { checkOtio, playsOf } from '../fixtures/turnover/otio-spec.ts';

/** Frame number of a label, by a library that knows nothing of ours. */
const frameOf = (label: string, { num, den }: Rate): number => smpteTimecode(label, [num, den], label.includes(';')).frameCount;
const fileNamed = (input: TurnoverInput, name: string) => [...makeFiles(input)].find((file) => file.name === name)!.text;
const table = (input: TurnoverInput, name: string): Record<string, string>[] => parse(fileNamed(input, name), { columns: true, record_delimiter: '\r\n' });

/** What plays, from the given ranges alone. */
function truthOf(film: (typeof FILMS)[number]) {
  const mark = film.drop ? ';' : ':';
  const hour = frameOf(`01:00:00${mark}00`, film.rate);
  const midnight = frameOf(film.last, film.rate);
  /** Frames in a day of labels. */
  const day = frameOf(`23:59:59${mark}${Math.round(film.rate.num / film.rate.den) - 1}`, film.rate) + 1;
  const lengths = [100, 101, 48, conformedLength({ in: 10, outExclusive: 71 }, { num: 30, den: 1 }, film.rate), conformedLength({ in: 100, outExclusive: 333 }, { num: 50, den: 1 }, film.rate), 1];
  const records = lengths.map((length, n) => { const begins = hour + lengths.slice(0, n).reduce((a, b) => a + b, 0); return [begins, begins + length]; });
  /** In and out of the takes that count as the film does, by their place. */
  const sources = new Map([[0, [0, 100]], [1, [30, 131]], [5, [500, 501]]].map(([place, range]) => [place as number, (range as number[]).map((frame) => (midnight + frame) % day)]));
  return { hour, midnight, day, lengths, records, sources };
}

describe.each(FILMS)('at $name', (film) => {
  const input = hardFilm(film);
  const { hour, midnight, day, lengths, records, sources: truth } = truthOf(film);

  it('says in OpenTimelineIO where everything plays and where it lies in its source', () => {
    const timeline = JSON.parse(stringOutOtio(input).text);
    expect(checkOtio(timeline)).toEqual([]);
    const [picture, sound, music] = playsOf(timeline);
    expect(picture!.map(({ record }) => record)).toEqual(records);
    expect(sound!.map(({ record }) => record)).toEqual(records);
    const rates = { film: film.rate.num / film.rate.den };
    expect(picture!.map(({ name, source, rate, media }) => ({ name, source, rate, media }))).toEqual([
      { name: HARD_NAMES[0], source: midnight, rate: rates.film, media: 'A001/Boots%2C%20%22close%22.mov' },
      { name: HARD_NAMES[1], source: midnight + 30, rate: rates.film, media: 'B002/CLIPS/%C3%9Cnter%20wegs/B002_C003_LONG.MOV' },
      { name: '1.3 Nothing yet', source: 0, rate: rates.film, media: null },
      { name: HARD_NAMES[2], source: 10, rate: 30, media: null },
      { name: HARD_NAMES[3], source: frameOf('10:00:00:48', { num: 50, den: 1 }) + 100, rate: 50, media: 'D%20001/line%0Abreak%09and%20%25%2025.mov' },
      { name: HARD_NAMES[0], source: midnight + 500, rate: rates.film, media: 'A001/Boots%2C%20%22close%22.mov' },
    ]);
    // What there is of the original that starts earlier, and the notes in its own time.
    expect(picture![1]!.available).toEqual([midnight - 90, 5000]);
    expect(picture![1]!.markers).toEqual([{ at: midnight + 40, frames: 12, comment: expect.stringContaining('Teo: =1+1') }]);
    expect(picture![0]!.markers).toMatchObject([{ at: midnight + 99, frames: 1 }]);
    // The drone has no sound; the music is as long as it is, and no longer.
    expect(sound![4]!.media).toBeNull();
    expect(music![0]!.record).toEqual([hour, hour + Math.min(lengths.reduce((a, b) => a + b, 0), Math.floor((3.007 * film.rate.num) / film.rate.den))]);
    expect(music![0]!.markers.map(({ at }) => at)).toEqual([1001, 2000].map((ms) => Math.round((ms * film.rate.num) / film.rate.den / 1000)));
  });

  it('says in the edit list the same, as far as an edit list can', () => {
    const [list] = editLists(input);
    expect(list!.text).toMatch(/^[\x20-\x7e\r\n]*$/);
    expect(list!.text.split('\r\n').slice(0, 2)).toEqual(['TITLE: The Last Ferry: ?Uberfahrt?', `FCM: ${film.drop ? 'DROP FRAME' : 'NON-DROP FRAME'}`]);
    // Fixed widths of pycmx: number 3, 2, reel 8, 1, channels 4, 2, transition 4, 1, its length 3, 1, four times 11 and 1.
    const events = list!.text.split('\r\n').filter((line) => /^\d{3} {2}/.test(line));
    expect(events.map((line) => line.length)).toEqual(events.map(() => 76));
    const read = events.map((line) => ({ number: line.slice(0, 3), reel: line.slice(5, 13).trim(), channels: line.slice(14, 18).trim(), transition: line.slice(20, 24).trim(), times: [29, 41, 53, 65].map((at) => line.slice(at, at + 11)) }));
    expect(read.map(({ number, channels, transition }) => `${number} ${channels} ${transition}`)).toEqual(events.map((_, n) => `00${n + 1} V C`));
    expect(read.map(({ reel }) => reel)).toEqual(['A001', 'B002R2EC', 'BL', 'P001', 'D001', 'A001']);
    expect(read.map(({ times }) => times.slice(2).map((label) => frameOf(label, film.rate)))).toEqual(records);
    const sources = read.map(({ times }) => times.slice(0, 2).map((label) => frameOf(label, film.rate)));
    for (const [place, range] of truth) expect(sources[place]).toEqual(range);
    // At another rate the seconds stay as they are on the source and the frame field is scaled: 10:00:02:48 of 50.
    expect(read[4]!.times[0]).toBe(`10:00:02:${Math.floor((48 * Math.round(film.rate.num / film.rate.den)) / 50)}`);
    for (const [n, [first, end]] of sources.entries()) expect((end! - first! + day) % day).toBe(lengths[n]);
    expect(list!.text).toContain('* FROM CLIP NAME: A001_C003;e ss.MOV\r\n');
    expect(list!.text.includes('* COUNTED AT 50: 10:00:02:48 TO 10:00:07:31')).toBe(film.name !== '50');
    expect(list!.text).toContain('* NOT APPROVED\r\n');
    expect(list!.text).toContain('* VARIABLE FRAME RATE\r\n');
  });

  it('says it once more in tables, and fetches what plays with its handles', () => {
    const picks = table(input, 'picks.csv');
    expect(picks.map((row) => [frameOf(row['record in']!, film.rate), frameOf(row['record out']!, film.rate)])).toEqual(records);
    expect(picks.map(({ clip, state }) => [clip, state])).toEqual([
      [HARD_NAMES[0], 'approved'], [HARD_NAMES[1], 'approved'], ['', 'nothing yet'], [`'${HARD_NAMES[2]}`, 'offered'], [HARD_NAMES[3], 'approved'], [HARD_NAMES[0], 'approved'],
    ]);
    expect(picks[4]!['source in']).toBe('10:00:02:48');
    expect(picks[4]!['source out']).toBe('10:00:07:31');
    const pulled = table(input, 'pull-list.csv');
    const rows = pulled.map((row) => [row.file, row.card, row.frames, row.size, row.slots]);
    // A clip that begins where it is used has no handle before it.
    expect(rows.slice(0, 3)).toEqual([[HARD_NAMES[0], 'A001', '124', '123456', '1.1'], [HARD_NAMES[0], 'A001', '49', '123456', '1.6'], ['CLIPS/Ünter wegs/B002_C003_LONG.MOV', 'B002', '149', '987654321', '1.2']]);
    expect(frameOf(pulled[2]!['in with handles']!, film.rate)).toBe((midnight + 30 - 24 + day) % day);
  });

  it('says notes and marks in WebVTT at the milliseconds of their frames', () => {
    const at = (frame: number) => Math.round((frame * 1000 * film.rate.den) / film.rate.num);
    const read = (name: string) => {
      const { cues, errors } = new WebVTTParser().parse(fileNamed(input, name), 'subtitles');
      expect(errors).toEqual([]);
      return cues.map(({ id, startTime, endTime, text }) => ({ id, from: Math.round(startTime * 1000), to: Math.round(endTime * 1000), text }));
    };
    const notes = read('notes.vtt');
    expect(notes.map(({ id }) => id)).toEqual(['1.note-3', '2.note-1', '3.note-2']);
    expect(notes.map(({ from, to }) => [from, to])).toEqual([[at(99), at(100)], [at(110), at(122)], [at(201), at(202)]]);
    expect(notes[1]!.text).toContain('Cut &lt;here&gt; &amp; there --&gt; now');
    expect(read('marks.vtt').map(({ from, text }) => [from, text])).toEqual([[1001, 'turn: The drums &lt;come&gt;'], [2000, 'build']]);
  });
});

it('gives the same bytes for the same film', () => {
  const bytes = () => [...makeFiles(hardFilm(FILMS[0]!))].map(({ name, text }) => `${name}\n${text}`);
  expect(bytes()).toEqual(bytes());
});

it('says all selects by day and camera, each in its own rate', () => {
  const timeline = JSON.parse(selectsOtio(hardFilm(FILMS[2]!)).text);
  expect(checkOtio(timeline)).toEqual([]);
  expect(timeline.tracks.children.map(({ name, children }: any) => [name, children.length])).toEqual([
    ['2026-05-30, camera A', 2], ['2026-05-30, camera B', 1], ['2026-05-30, camera Phone', 1], ['2026-05-30, camera D', 1],
  ]);
  const [fast] = timeline.tracks.children[3].children;
  expect([fast.source_range.start_time.value, fast.source_range.duration.value, fast.source_range.duration.rate]).toEqual([36000 * 50 + 48 + 100, 233, 50]);
});

it('keeps reel names apart within eight letters', () => {
  const names = reelNames(['A001_C003_0530AB', 'A001_C003_0530ZZ', 'A001C003', 'bl', '', 'Ümlaut 1'].map((reel) => ({ reel })));
  expect(Object.fromEntries(names)).toEqual({ A001C003: 'A001C003', 'A001_C003_0530AB': 'A001C002', 'A001_C003_0530ZZ': 'A001C004', bl: 'BL2', '': 'AX', 'Ümlaut 1': 'UMLAUT1' });
  expect(new Set(names.values()).size).toBe(6);
});

it('splits what is too long for one edit list, and no event is lost', () => {
  const clip = clipOf('A.mov', { rate: { num: 25, den: 1 }, start: '01:00:00:00', frames: 90_000 });
  const input = inputOf({ rate: { num: 25, den: 1 } }, Array.from({ length: 2000 }, (_, n) => ({ name: `Slot ${n}`, take: { clip, in: n, outExclusive: n + 5 } })));
  const lists = editLists(input);
  expect(lists.map(({ name, text }) => [name, text.match(/^\d{3} {2}/gm)!.length])).toEqual([['string-out-1.edl', 999], ['string-out-2.edl', 999], ['string-out-3.edl', 2]]);
  expect(lists[1]!.text.split('\r\n')[2]).toBe('001  A001     V     C        01:00:39:24 01:00:40:04 01:03:19:20 01:03:20:00');
});

it('is read by pycmx as what plays', () => {
  // Read by the statement parser of github iluvcapra/pycmx 03b4119 (MIT) outside of these tests; the list it read lies beside.
  const folder = new URL('../fixtures/turnover/', import.meta.url);
  const { lists } = JSON.parse(readFileSync(new URL('pycmx-reading.json', folder), 'utf8')) as { lists: Record<string, { list: string[]; title: string; drop: boolean; events: any[]; names: string[]; unrecognized: unknown[] }> };
  for (const film of FILMS) {
    const { list, events, names, drop, unrecognized } = lists[film.name]!;
    // The very list that is made today.
    expect(editLists(hardFilm(film))[0]!.text.split('\r\n')).toEqual(list);
    expect([unrecognized, drop, names.length]).toEqual([[], film.drop, 5]);
    const { records, sources } = truthOf(film);
    const read = events.map((event) => [event.record_in, event.record_out, event.source_in, event.source_out].map((label) => frameOf(label, film.rate)));
    expect(read.map((one) => one.slice(0, 2))).toEqual(records);
    for (const [place, range] of sources) expect(read[place]!.slice(2)).toEqual(range);
    expect(events.map(({ source }) => source)).toEqual(['A001', 'B002R2EC', 'BL', 'P001', 'D001', 'A001']);
  }
});
