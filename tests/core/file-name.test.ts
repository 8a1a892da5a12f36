import { describe, expect, it } from 'vitest';
import { readName } from '../../server/core/file-name.ts';
import { isClipName, isHistoryFile, isManifestName, isSystemFile, listLine, pathKey } from '../../server/core/card-files.ts';

const nothing = { camera: null, reel: null, day: null, timeMs: null };

describe('what a name says', () => {
  it.each([
    // The sample card of the ASC MHL specification is named so (github ascmitc/mhl, examples/scenarios).
    ['A002C006_141024_R2EC.mov', { camera: 'A', reel: 'A002', day: '2014-10-24', timeMs: null }],
    ['A002R2EC', { camera: 'A', reel: 'A002', day: null, timeMs: null }],
    // Common practice, no source.
    ['B013_C004_0530AB_001.mxf', { camera: 'B', reel: 'B013', day: null, timeMs: null }],
    ['VID_20260530_182044.mp4', { ...nothing, day: '2026-05-30', timeMs: ((18 * 60 + 20) * 60 + 44) * 1000 }],
    ['20260530-182044.MP4', { ...nothing, day: '2026-05-30', timeMs: ((18 * 60 + 20) * 60 + 44) * 1000 }],
    ['VID_20260530_182044123.mp4', { ...nothing, day: '2026-05-30', timeMs: ((18 * 60 + 20) * 60 + 44) * 1000 }],
    // Nothing is read into names that only look a little like it.
    ['MVI_0001.MOV', nothing],
    ['DSC00042.MP4', nothing],
    ['C0001.MP4', nothing],
    ['A002C006_149924_R2EC.mov', { camera: 'A', reel: 'A002', day: null, timeMs: null }],
    ['VID_20261330_182044.mp4', nothing],
    ['VID_20260530_992044.mp4', nothing],
    ['A002 the crossing.mov', nothing],
    ['', nothing],
  ])('%s', (name, facts) => expect(readName(name)).toEqual(facts));
});

describe('names on a card', () => {
  it('what systems leave for themselves, and what only looks like it', () => {
    expect(['.DS_Store', 'DCIM/._A_0001.MP4', '.Spotlight-V100/x/y', 'System Volume Information/WPSettings.dat', 'a/Thumbs.db'].filter((path) => !isSystemFile(path))).toEqual([]);
    expect(['.hidden.mp4', 'DCIM/DS_Store', 'Trashes/a.mp4', 'thumbs.db.mp4', '...mp4'].filter(isSystemFile)).toEqual([]);
  });

  it('lists, histories and clips', () => {
    expect(['a/0001_A_2020-01-16_091500Z.mhl', 'MD5SUMS', 'sha256sums.txt', 'A001.xxh64', 'x.md5'].every(isManifestName)).toBe(true);
    expect(['a.mp4', 'sums.txt', 'md5.mp4'].some(isManifestName)).toBe(false);
    expect([isHistoryFile('A/ascmhl/ascmhl_chain.xml'), isHistoryFile('ascmhl'), isHistoryFile('A/myascmhl/x')]).toEqual([true, false, false]);
    expect([isClipName('A.MXF'), isClipName('A.mp4.XML'), isClipName('MOV')]).toEqual([true, false, false]);
  });

  it('one key for the spellings of one path, and another for every other path', () => {
    expect(pathKey('.\\Übersicht\\a.mp4'.normalize('NFD'))).toBe(pathKey('Übersicht//a.mp4'.normalize('NFC')));
    expect(pathKey('a/B.mp4')).not.toBe(pathKey('a/b.mp4'));
  });

  it('a line of a list, odd names as coreutils write them', () => {
    expect(listLine('a b.mp4', '0ea03b369a463d9d')).toBe('XXH64 (a b.mp4) = 0ea03b369a463d9d\n');
    expect(listLine('a\\b\nc', '0ea03b369a463d9d')).toBe('\\XXH64 (a\\\\b\\nc) = 0ea03b369a463d9d\n');
  });
});
