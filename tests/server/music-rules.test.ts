import { describe, expect, it } from 'vitest';
import type { Analysis } from '../../server/music/analysis/contract.ts';
import { checkInTrack, marksFound, settleMarks, titleOf } from '../../server/music/rules.ts';

const heard: Analysis = {
  version: 1,
  lengthMs: 10_000,
  pulse: 0.9,
  tempo: [],
  beats: [{ atMs: 1000, strength: 0.4, confidence: 0.7, inBar: 1 }, { atMs: 500, strength: 0.2, confidence: 0.6, inBar: null }],
  hits: [{ atMs: 1010, strength: 0.9, confidence: 0.8 }],
  builds: [{ fromMs: 2000, toMs: 6000, riseDb: 9, confidence: 0.5 }],
  turns: [{ atMs: 6000, confidence: 0.4 }],
  silences: [],
  loudness: { integratedLufs: -20, truePeakDbtp: -3, rangeLu: 5 },
};
const standing = { kind: 'beat' as const, byId: null, removedAt: null, removedById: null, tied: false };

describe('marks of the analysis', () => {
  it('carry what was heard, in order of time', () => {
    expect(marksFound(heard)).toEqual([
      { kind: 'beat', atMs: 500, untilMs: null, strength: 0.2, confidence: 0.6, inBar: null },
      { kind: 'beat', atMs: 1000, untilMs: null, strength: 0.4, confidence: 0.7, inBar: 1 },
      { kind: 'hit', atMs: 1010, untilMs: null, strength: 0.9, confidence: 0.8, inBar: null },
      { kind: 'build', atMs: 2000, untilMs: 6000, strength: null, confidence: 0.5, inBar: null },
      { kind: 'turn', atMs: 6000, untilMs: null, strength: null, confidence: 0.4, inBar: null },
    ]);
  });

  it('never replace a person’s: those stay, what a person took away stays away, a tied one stays, the rest gives way', () => {
    const { remove, add } = settleMarks(
      [
        { ...standing, id: 'old', atMs: 480 },
        { ...standing, id: 'moved by a person', atMs: 1030, byId: 'teo' },
        { ...standing, id: 'taken away by a person', kind: 'turn', atMs: 5990, removedAt: new Date(), removedById: 'teo' },
        { ...standing, id: 'tied', kind: 'hit', atMs: 1000, tied: true },
        { ...standing, id: 'taken back by the analysis before', kind: 'build', atMs: 2000, removedAt: new Date() },
      ],
      marksFound(heard),
    );
    expect(remove).toEqual(['old']);
    expect(add.map(({ kind, atMs }) => [kind, atMs])).toEqual([['beat', 500], ['build', 2000]]);
  });

  it('come again when nobody has touched anything', () => {
    const found = marksFound(heard);
    const before = found.map((mark, n) => ({ ...standing, ...mark, id: String(n) }));
    expect(settleMarks(before, found)).toEqual({ remove: ['0', '1', '2', '3', '4'], add: found });
  });
});

it.each([
  [{ atMs: 0, untilMs: null }, null],
  [{ atMs: 9999, untilMs: 10_000 }, null],
  [{ atMs: 10_000, untilMs: null }, 'atMs'],
  [{ atMs: 5000, untilMs: 5000 }, 'untilMs'],
  [{ atMs: 5000, untilMs: 10_001 }, 'untilMs'],
])('a mark lies in its track: %o', (mark, field) => {
  const check = () => checkInTrack(mark, 10_000);
  if (field === null) expect(check).not.toThrow();
  else expect(check).toThrow(expect.objectContaining({ code: 'bad-range', fields: [expect.objectContaining({ field })] }));
});

it.each([['Low_water (take 2).wav', 'Low water (take 2)'], ['.wav', '.wav'], ['no ending', 'no ending']])('a file called %s is titled %s', (name, title) => expect(titleOf(name)).toBe(title));
