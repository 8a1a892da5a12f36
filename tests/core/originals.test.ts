// Which camera original a clip was made from: what is certain is joined, everything else is shown.
import { describe, expect, it } from 'vitest';
import { rate } from '../../server/core/rate.ts';
import { dayFrames, parseTimecode } from '../../server/core/timecode.ts';
import { readOriginals } from '../../server/originals/lists.ts';
import { factsOf, merge } from '../../server/originals/merge.ts';
import { compareFacts, match, stemOf, type Facts } from '../../server/originals/rules.ts';
import { randomFrom } from '../fixtures/random.ts';

const NTSC = rate(30000, 1001);
const FILM = rate(24000, 1001);
const facts = (given: Partial<Facts>): Facts => ({ id: 'x', name: 'A001C001.mov', card: 'A001', reel: 'A001', rate: FILM, start: parse('01:00:00:00', FILM), length: { frames: 240 }, xxh64: null, ...given });
const parse = (label: string, r = FILM) => parseTimecode(label, r);
const joinedOf = (clips: Facts[], originals: Facts[], choices: Parameters<typeof match>[2] = []) =>
  match(clips, originals, choices).settled.flatMap((one) => (one.state === 'joined' ? [[one.clipId, one.originalId]] : []));

describe('names', () => {
  // Endings of light versions: common practice, no source.
  it.each([
    ['A001C001_Proxy.mp4', 'a001c001'],
    ['A001C001 720p.mov', 'a001c001'],
    ['C1080.MP4', 'c1080'],
    ['flight.mov', 'flight'],
    ['_proxy.mov', '_proxy'],
    ['Cafe\u0301_01.mov', 'café_01'],
  ])('%s is %s', (name, stem) => expect(stemOf(name)).toBe(stem));
});

describe('timecode', () => {
  it('counts from the frame, not the label, in drop-frame', () => {
    // SMPTE ST 12-1:2014: 01:00:59;29 is followed by 01:01:00;02.
    const found = compareFacts(facts({ rate: NTSC, start: parse('01:01:00;02', NTSC) }), facts({ rate: NTSC, start: parse('01:00:59;29', NTSC), length: { frames: 241 } }));
    expect(found).toMatchObject({ offset: 1, words: ['the original starts 1 frame earlier', 'the original is 1 frame longer'] });
  });

  it('goes the shorter way round midnight', () => {
    const found = compareFacts(facts({ start: parse('00:00:00:05') }), facts({ start: parse('23:59:59:23') }));
    expect(found.offset).toBe(6);
    expect(compareFacts(facts({ start: parse('23:59:59:23') }), facts({ start: parse('00:00:00:05') })).offset).toBe(-6);
    expect(dayFrames(FILM, false)).toBe(24 * 3600 * 24);
  });

  it('does not compare drop with non-drop, nor labels of two rates', () => {
    expect(compareFacts(facts({ rate: NTSC, start: parse('01:00:00;00', NTSC) }), facts({ rate: NTSC, start: parse('01:00:00:00', NTSC) }))).toMatchObject({ offset: null, findings: { start: 'differs' } });
    expect(compareFacts(facts({}), facts({ rate: rate(24), start: parse('01:00:00:00', rate(24)) }))).toMatchObject({ offset: null, findings: { rate: 'differs', start: 'unknown', length: 'unknown' } });
  });
});

describe('length', () => {
  it.each([
    ['to the millisecond', { seconds: 10.01, within: 0.0005 }, 'agrees'],
    ['a frame off', { seconds: 10.052, within: 0.0005 }, 'differs'],
    ['to the second, which says too little', { seconds: 10, within: 0.5 }, 'unknown'],
    ['to the second, and wrong', { seconds: 11, within: 0.5 }, 'differs'],
  ])('in seconds %s', (_, length, finding) => {
    // 240 frames of 24000/1001 are 10.01 s.
    expect(compareFacts(facts({}), facts({ length })).findings.length).toBe(finding);
  });
});

describe('matching', () => {
  it('joins nothing by a name alone: every card begins at 0001', () => {
    const bare = { card: null, reel: null, start: null };
    expect(joinedOf([facts({ id: 'c', ...bare })], [facts({ id: 'o', ...bare })])).toEqual([]);
    expect(joinedOf([facts({ id: 'c', ...bare, card: 'A' })], [facts({ id: 'o', ...bare, card: 'A' })])).toEqual([['c', 'o']]);
  });

  it('tells the same names of two cards apart, and shows them where the card is unknown', () => {
    const bare = { name: 'C0001.mp4', reel: null, start: null };
    const originals = [facts({ id: 'oa', ...bare, card: 'A' }), facts({ id: 'ob', ...bare, card: 'B' })];
    expect(joinedOf([facts({ id: 'cb', ...bare, card: 'B' }), facts({ id: 'ca', ...bare, card: 'A' })], originals)).toEqual([['ca', 'oa'], ['cb', 'ob']]);
    const unknown = match([facts({ id: 'c', ...bare, card: null })], originals, []);
    expect(unknown.settled).toEqual([]);
    expect(unknown.open[0]!.candidates.map(({ originalId }) => originalId)).toEqual(['oa', 'ob']);
  });

  it('shows a clip that spans two files instead of joining it to one', () => {
    const clip = facts({ id: 'c', length: { frames: 480 } });
    const [first, second] = [facts({ id: 'o1', length: { frames: 240 } }), facts({ id: 'o2', name: 'A001C001_2.mov', start: parse('01:00:10:00'), length: { frames: 240 } })];
    const found = match([clip], [first, second], []);
    expect(found.settled).toEqual([]);
    expect(found.open[0]!.candidates[0]!.words).toEqual(['the original is 240 frames shorter']);
    expect(found.originalsWithout).toEqual(['o2']);
  });

  it('keeps what a person settled against all facts', () => {
    const [clip, twin, odd] = [facts({ id: 'c' }), facts({ id: 'o1' }), facts({ id: 'o2', name: 'other.mov', length: { frames: 9 } })];
    expect(joinedOf([clip], [twin, odd], [{ clipId: 'c', kind: 'joined', originalId: 'o2' }])).toEqual([['c', 'o2']]);
    expect(match([clip], [twin], [{ clipId: 'c', kind: 'apart', originalId: 'o1' }])).toMatchObject({ settled: [], clipsWithout: ['c'], originalsWithout: ['o1'] });
    expect(match([clip], [twin], [{ clipId: 'c', kind: 'own', originalId: null }])).toMatchObject({ settled: [{ state: 'own', by: 'person' }], originalsWithout: ['o1'] });
  });

  it('knows a file that is the original itself by its checksum', () => {
    expect(match([facts({ id: 'c', xxh64: 'aa' })], [facts({ id: 'o', xxh64: 'aa', reel: 'Z' })], []).settled).toEqual([{ state: 'own', by: 'facts', clipId: 'c', originalId: 'o' }]);
  });

  it.each([1, 2, 3, 4, 5])('joins none of 200 wrongly, finds every fault, in any order (seed %i)', (seed) => {
    const random = randomFrom(seed);
    const [clips, originals]: [Facts[], Facts[]] = [[], []];
    const truth = new Map<string, 'joined' | 'open' | 'without'>();
    for (let n = 0; n < 200; n += 1) {
      // Four cards whose names begin again, and lengths that are often the same.
      const card = `K${n % 4}`;
      const name = `C${String(Math.floor(n / 4) + 1).padStart(4, '0')}`;
      const one = facts({ name: `${name}.mxf`, card, reel: card, start: { frame: n * 1000, drop: false }, length: { frames: 100 + Math.floor(random() * 3) } });
      const original = { ...one, id: `o${n}` };
      const clip = { ...one, id: `c${n}`, name: `${name}_proxy.mp4` };
      const fault = Math.floor(random() * 8);
      if (fault === 1) clip.start = { frame: one.start!.frame + 3, drop: false };
      if (fault === 2) clip.length = { frames: (one.length as { frames: number }).frames - 1 };
      if (fault === 3) clip.rate = rate(25);
      if (fault === 4) clip.start = null;
      if (fault === 5) clip.card = clip.reel = clip.start = null;
      clips.push(clip);
      if (fault !== 6) originals.push(original);
      if (fault === 7) originals.push({ ...original, id: `p${n}` });
      truth.set(clip.id, fault === 0 || fault === 4 ? 'joined' : fault === 6 ? 'without' : 'open');
    }
    const found = match(clips, originals, []);
    const joined = found.settled.flatMap((one) => (one.state === 'joined' ? one : []));
    expect(joined.filter(({ clipId, originalId }) => clipId.slice(1) !== originalId.slice(1))).toEqual([]);
    // A clip that tells nothing but its name is a rival to every other of that name, so those are shown as well.
    const rivals = new Set(clips.filter(({ card }) => card === null).map(({ name }) => stemOf(name!)));
    const clear = clips.filter(({ name }) => !rivals.has(stemOf(name!)));
    expect(clear.length).toBeGreaterThan(60);
    const state = (id: string) => (joined.some(({ clipId }) => clipId === id) ? 'joined' : found.open.some(({ clipId }) => clipId === id) ? 'open' : 'without');
    for (const { id, name } of clear) {
      // Names begin again on every card, so a clip without its original still has others of its name to be shown.
      const expected = truth.get(id) === 'without' && state(id) === 'open' ? 'open' : truth.get(id);
      expect([id, name, state(id)]).toEqual([id, name, expected]);
    }
    expect(match(clips.toReversed(), originals.toSorted(() => random() - 0.5), [])).toEqual(found);
  });
});

describe('lists', () => {
  const read = (text: string | Uint8Array) => readOriginals(typeof text === 'string' ? Buffer.from(text) : text);
  const codeOf = (text: string | Uint8Array): string => {
    try {
      read(text);
      return 'read';
    } catch (error) {
      return (error as { code: string }).code;
    }
  };

  it('reads a table with quotes, CRLF and a byte order mark (RFC 4180)', () => {
    expect(read('\ufeffName,Reel,Start timecode,Frame rate,Frames,Size\r\n"A, ""one"".mov",A001,01:00:00;02,29.97,10,99\r\n')).toEqual([
      { path: 'A, "one".mov', reel: 'A001', rate: NTSC, start: { frame: 107894, drop: true }, length: { frames: 10 }, bytes: 99, xxh64: null },
    ]);
  });

  it('knows seconds as far as they are written', () => expect(read('name,duration\na.mov,12.5\n')[0]!.length).toEqual({ seconds: 12.5, within: 0.05 }));

  it.each([
    ['a path out of the card', 'name,reel\n../../etc/passwd,A\n', 'manifest-path'],
    ['a path of a disk', 'name,reel\nC:\\x.mov,A\n', 'manifest-path'],
    ['a name twice', 'name,reel\na.mov,A\na.mov,B\n', 'manifest-duplicate'],
    ['a column twice', 'name,file\na.mov,b.mov\n', 'manifest-damaged'],
    ['too few fields', 'name,reel\na.mov\n', 'manifest-damaged'],
    ['a quote that does not close', 'name,reel\n"a.mov,A\n', 'manifest-damaged'],
    ['a line of a megabyte', `name,reel\n${'a'.repeat(1_000_000)},A\n`, 'manifest-damaged'],
    ['a quoted megabyte', `name,reel\n"${'a""'.repeat(400_000)}",A\n`, 'manifest-damaged'],
    ['no rate', 'name,rate\na.mov,quick\n', 'manifest-damaged'],
    ['a label that drop-frame leaves out', 'name,rate,start\na.mov,29.97,00:01:00;00\n', 'manifest-damaged'],
    ['another encoding', Buffer.from('name,reel\ncaf\u00e9.mov,A\n', 'latin1'), 'manifest-unknown'],
    ['UTF-16', Buffer.from('name,reel\na.mov,A\n', 'utf16le'), 'manifest-unknown'],
    ['a zip', Buffer.from('504b03041400000008000000', 'hex'), 'manifest-unknown'],
    ['no column of names', 'reel,size\nA,1\n', 'manifest-unknown'],
    ['half a report', '{"format": {"filename"', 'manifest-damaged'],
    ['a report of nothing', '{"format": {}, "streams": []}', 'manifest-unknown'],
    ['a report of nonsense', '{"format": 3, "streams": [null]}', 'manifest-unknown'],
    ['nothing but heads', 'name,reel\n', 'manifest-damaged'],
  ])('refuses %s', (_, text, code) => expect(codeOf(text)).toBe(code));

  it('makes one original of a list of checksums and a table, in either order', () => {
    const sums = { card: 'A', entries: read('0ea03b369a463d9d  DCIM/A001.mov\n') };
    const table = { card: 'A', entries: read('name,frames\nA001.mov,240\n') };
    const one = merge([sums, table]);
    expect(one.originals).toMatchObject([{ ids: ['A/DCIM/A001.mov', 'A/A001.mov'], listed: { length: { frames: 240 }, xxh64: '0ea03b369a463d9d' } }]);
    expect(merge([table, sums])).toEqual(one);
    expect(factsOf(one.originals[0]!).name).toBe('A001.mov');
    expect(merge([table, { card: 'A', entries: read('name,frames\nA001.mov,241\n') }]).clash).toEqual({ path: 'A001.mov', fact: 'length' });
  });
});
