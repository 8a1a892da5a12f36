// A card against its lists, case by case: where paths start, what is left out, histories, several lists at once.
import { describe, expect, it } from 'vitest';
import { compare, type Arrival, type List } from '../../server/cards/compare.ts';
import { leftOut, rootOf } from '../../server/cards/list-place.ts';
import type { Entry } from '../../server/cards/manifest.ts';

const entry = (path: string, value = 'aaaaaaaaaaaaaaaa', more: Partial<Entry> = {}): Entry => ({ path, bytes: null, sums: [{ kinds: ['xxh64'], value }], ...more });
const list = (entries: Entry[], more: Partial<List> = {}): List => ({ id: Math.random().toString(), name: 'a list', format: 'list', root: null, generation: 0, ignores: [], entries, ...more });
const came = (path: string, xxh64 = 'aaaaaaaaaaaaaaaa', more: Partial<Arrival> = {}): Arrival => ({ uploadId: path, path, state: 'arrived', bytes: 5, sums: { xxh64 }, clipId: null, refusal: null, checkedBySender: false, ...more });
const look = (lists: List[], arrivals: Arrival[]) => {
  const { files, allReceived } = compare(lists, arrivals, new Map());
  return { files: Object.fromEntries(files.map(({ path, state }) => [path, state])), allReceived };
};

describe('where a list starts', () => {
  const here = [came('A001/DCIM/1.mp4'), came('A001/DCIM/2.mp4')];
  it.each([
    ['inside the card', ['DCIM/1.mp4', 'DCIM/2.mp4']],
    ['in the folder around it', ['A001/DCIM/1.mp4', 'A001/DCIM/2.mp4']],
    ['in a folder of another name around it', ['Untitled/DCIM/1.mp4', 'Untitled/DCIM/2.mp4']],
  ])('%s', (_, paths) => {
    expect(look([list(paths.map((path) => entry(path)))], here)).toEqual({ files: { 'A001/DCIM/1.mp4': 'verified', 'A001/DCIM/2.mp4': 'verified' }, allReceived: true });
  });

  it('of nothing that is here stays as it is', () => {
    expect(rootOf([entry('X/1.mp4'), entry('X/2.mp4')], ['A001/DCIM/1.mp4'])).toEqual({ without: '', before: '' });
    expect(look([list([entry('X/1.mp4')])], [came('A001/1.mov')])).toEqual({ files: { 'X/1.mp4': 'missing', 'A001/1.mov': 'extra' }, allReceived: false });
  });

  it('is known of a list that came out of the card, whatever else would fit', () => {
    const history = list([entry('1.mp4', 'bbbbbbbbbbbbbbbb')], { format: 'ascmhl', root: 'A001/SUB' });
    expect(look([history], [came('A001/1.mp4'), came('A001/SUB/1.mp4', 'bbbbbbbbbbbbbbbb')]).files).toEqual({ 'A001/SUB/1.mp4': 'verified', 'A001/1.mp4': 'extra' });
  });
});

describe('several lists', () => {
  it('a file has to agree with each that names it', () => {
    const two = [list([entry('1.mp4')], { name: 'one' }), list([entry('1.mp4', 'bbbbbbbbbbbbbbbb')], { name: 'other' })];
    const { files } = compare(two, [came('1.mp4')], new Map());
    expect(files).toMatchObject([{ state: 'changed', why: 'By other: at the source its xxh64 was bbbbbbbbbbbbbbbb, here it is aaaaaaaaaaaaaaaa.' }]);
  });

  it('generations of one history are one: the latest good checksum counts, a failed one never', () => {
    const first = list([entry('1.mp4'), entry('2.mp4')], { format: 'ascmhl', root: '', generation: 1 });
    const second = list([entry('1.mp4', 'bbbbbbbbbbbbbbbb'), { path: '2.mp4', bytes: 9, sums: [] }], { format: 'ascmhl', root: '', generation: 2 });
    expect(look([second, first], [came('1.mp4', 'bbbbbbbbbbbbbbbb'), came('2.mp4')])).toEqual({ files: { '1.mp4': 'verified', '2.mp4': 'verified' }, allReceived: true });
    expect(look([list([{ path: '3.mp4', bytes: 9, sums: [] }], { format: 'ascmhl' })], [came('3.mp4', 'aaaaaaaaaaaaaaaa', { bytes: 9 })]).files).toEqual({ '3.mp4': 'unproved' });
  });
});

describe('what is not counted', () => {
  it('lists, histories, systems’ own files and ignored ones are besides', () => {
    const history = list([entry('1.mp4')], { format: 'ascmhl', root: 'A', ignores: ['*.tmp', 'CACHE/', 'ascmhl'] });
    const besides = ['A/ascmhl/0001_A.mhl', 'A/ascmhl/ascmhl_chain.xml', 'A/card.md5', 'A/.DS_Store', 'A/x.tmp', 'A/CACHE/y.bin'];
    const proof = compare([history], [came('A/1.mp4'), ...besides.map((path) => came(path))], new Map());
    expect([proof.besides, proof.allReceived]).toEqual([besides.length, true]);
  });

  it('but a list is looked for where another list names it', () => {
    expect(look([list([entry('1.mp4'), entry('card.md5')])], [came('1.mp4')])).toEqual({ files: { '1.mp4': 'verified', 'card.md5': 'missing' }, allReceived: false });
  });

  it.each([
    ['.DS_Store', 'A/DCIM/.DS_Store', true],
    ['*.tmp', 'A/x.tmp', true],
    ['*.tmp', 'A/x.tmp.mp4', false],
    ['CACHE/', 'A/CACHE/x/y.mp4', true],
    ['CACHE/', 'A/CACHE', false],
    ['DCIM/*.THM', 'A/DCIM/1.THM', true],
    ['DCIM/*.THM', 'A/DCIM/B/1.THM', false],
    ['a.c', 'A/abc', false],
    ['', 'A/1.mp4', false],
    ['/', 'A/1.mp4', false],
  ])('pattern %j and %s: %s', (pattern, path, is) => expect(leftOut(path, [pattern])).toBe(is));
});

describe('nothing is called received', () => {
  it.each<[string, List[], Arrival[]]>([
    ['without a list', [], [came('1.mp4')]],
    ['with an empty card', [list([entry('1.mp4')])], []],
    ['while a file is on its way', [list([entry('1.mp4')])], [came('1.mp4', '', { state: 'arriving', sums: {} })]],
    ['with a file of another length', [list([entry('1.mp4', undefined, { bytes: 6 })])], [came('1.mp4')]],
    ['with a file on no list', [list([entry('1.mp4')])], [came('1.mp4'), came('2.mp4')]],
    ['with a checksum still to be made', [list([{ path: '1.mp4', bytes: null, sums: [{ kinds: ['md5'], value: 'a'.repeat(32) }] }])], [came('1.mp4')]],
  ])('%s', (_, lists, arrivals) => expect(look(lists, arrivals).allReceived).toBe(false));
});
