// Lists made at the source: what the real programs and the standard write is read right, what is hostile is refused.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Readable } from 'node:stream';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readManifest } from '../../server/cards/manifest.ts';
import { KINDS, sumsOf, type Kind } from '../../server/cards/sums.ts';
import { faultyCard, writeFolder } from '../fixtures/faulty-card.ts';
import { mhl, SAMPLE } from '../fixtures/mhl.ts';

const read = (text: string | Uint8Array) => readManifest(typeof text === 'string' ? Buffer.from(text) : text);
const codeOf = (text: string | Uint8Array): string => {
  try {
    read(text);
    return 'read';
  } catch (error) {
    return (error as { code: string }).code;
  }
};
const sums = (text: string, kinds: readonly Kind[] = KINDS) => sumsOf(Readable.from([Buffer.from(text)]), kinds);

describe('checksums', () => {
  // Of the sample card: computed with xxhsum, md5sum, sha1sum and the standard's reference tool.
  it.each([
    ['Clips/A002C006_141024_R2EC.mov', { xxh64: '0ea03b369a463d9d', md5: 'f5ac8127b3b6b85cdc13f237c6005d80', sha1: '3330b4373640f9e4604991e73c7e86bfd8da2dc3', xxh3: '5c6d5318a0809172', xxh128: 'ad3e38cc4333ed1b742b20a1b224a05e' }],
    ['Clips/A002C007_141024_R2EC.mov', { xxh64: '7680e5f98f4a80fd', md5: '614dd0e977becb4c6f7fa99e64549b12', sha1: '7b18d017f89f61cf17d47f92749ea6930a3f1deb', xxh3: '4efdb9f79f57a82b', xxh128: '1064874a071b0e5ebf280cf748ade959' }],
    ['Sidecar.txt', { xxh64: '3ab5a4166b9bde44', md5: '6425c5a180ca0f420dd2b25be4536a91', sha1: 'f17ddd8c3a650c1357524ec15ce287c45cfa0726', xxh3: '933ae634cab499c5', xxh128: 'fa7361aa9bcf6bc0f583feb7224826b4', c4: 'c41QucoCPrx6MvSNFwXxFRQ9SxwbbArZJBYpnMzqSN6bL7YZVNuSjV7Vb51m8pmw2kzjEyHRPrK2tQySZRxhJkv5Bx' }],
  ] as const)('%s of the standard’s sample card', async (path, expected) => {
    expect(await sums(SAMPLE[path])).toMatchObject(expected);
  });

  it('"abc" and nothing at all', async () => {
    expect(await sums('abc', ['md5', 'xxh64', 'c4'])).toEqual({
      md5: '900150983cd24fb0d6963f7d28e17f72',
      xxh64: '44bc2cf5ad770999',
      c4: 'c45S4rnaTNWonxss1u8LzsaJdEph1AJhWUF4sh2waXKMsutyfAxg4ybUeuXVWS9HdNcEypmeXn8FZGonD4w1rj9DZp',
    });
    expect(await sums('', ['xxh64'])).toEqual({ xxh64: 'ef46db3751d8e999' });
  });
});

describe('lists of the real programs', () => {
  let folder: string;
  const card = faultyCard({ files: 60, faults: 0, seed: 7 });
  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'rushlight-lists-'));
    writeFolder(folder, card.source);
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  const run = (program: string, args: string[], names = [...card.source.keys()]) => execFileSync(program, [...args, '--', ...names], { cwd: folder, encoding: 'utf8' });
  const expected = async (kind: Kind) => Object.fromEntries(await Promise.all([...card.source].map(async ([path, bytes]) => [path, (await sumsOf(Readable.from([bytes]), [kind]))[kind]])));

  it.each<[string, string[], Kind]>([
    ['md5sum', [], 'md5'],
    ['md5sum', ['--binary'], 'md5'],
    ['md5sum', ['--tag'], 'md5'],
    ['sha1sum', [], 'sha1'],
    ['sha256sum', [], 'sha256'],
    ['sha256sum', ['--tag'], 'sha256'],
    ['sha512sum', [], 'sha512'],
    ['xxhsum', ['-H0'], 'xxh32'],
    ['xxhsum', [], 'xxh64'],
    ['xxhsum', ['-H2'], 'xxh128'],
    ['xxhsum', ['-H3'], 'xxh3'],
    ['xxhsum', ['-H1', '--tag'], 'xxh64'],
    ['xxhsum', ['-H2', '--tag'], 'xxh128'],
  ])('%s %j', async (program, args, kind) => {
    const text = run(program, args);
    for (const written of [text, text.replaceAll('\n', '\r\n'), `\uFEFF${text}`]) {
      const { entries, format } = read(written);
      expect(format).toBe('list');
      expect(Object.fromEntries(entries.map(({ path, sums: [sum] }) => [path, sum!.value]))).toEqual(await expected(kind));
      expect(entries.every(({ sums: [sum] }) => sum!.kinds.includes(kind))).toBe(true);
    }
  });

  it('names with line ends, which coreutils writes in another way', () => {
    writeFolder(folder, new Map([['new\nline.txt', Buffer.from('a')], ['re\rturn.txt', Buffer.from('b')]]));
    const text = run('md5sum', [], ['new\nline.txt', 're\rturn.txt', 'MISC/back\\slash.txt']);
    expect(read(text).entries.map(({ path }) => path)).toEqual(['new\nline.txt', 're\rturn.txt', 'MISC/back\\slash.txt']);
  });

  it('paths from the folder itself, remarks and blank lines', () => {
    const [line] = run('md5sum', [], ['MISC/#number.txt']).split('\n');
    expect(read(`; made on the boat\n# card A001\n\n${line!.replace('MISC', './MISC')}\n\n`).entries.map(({ path }) => path)).toEqual(['MISC/#number.txt']);
  });
});

describe('ASC MHL', () => {
  it('reads paths, sizes, checksums, ignore patterns; hashes of folders and foreign metadata are passed over', () => {
    const text = mhl([
      { path: 'Clips/A002C006_141024_R2EC.mov', size: 5, hashes: [['md5', 'f5ac8127b3b6b85cdc13f237c6005d80'], ['xxh64', '0ea03b369a463d9d', 'verified']] },
      { path: 'Smoke & salt <1>.txt', hashes: [['xxh64', '3AB5A4166B9BDE44']], previousPath: 'Sidecar.txt' },
    ]);
    expect(read(text)).toEqual({
      format: 'ascmhl',
      madeAt: new Date('2020-01-16T09:15:00Z'),
      ignores: ['.DS_Store', 'ascmhl', 'ascmhl/'],
      entries: [
        { path: 'Clips/A002C006_141024_R2EC.mov', bytes: 5, sums: [{ kinds: ['md5'], value: 'f5ac8127b3b6b85cdc13f237c6005d80' }, { kinds: ['xxh64'], value: '0ea03b369a463d9d' }] },
        { path: 'Smoke & salt <1>.txt', bytes: null, sums: [{ kinds: ['xxh64'], value: '3ab5a4166b9bde44' }], previousPath: 'Sidecar.txt' },
      ],
    });
  });

  it('a failed checksum is nothing to compare with (5.6.4)', () => {
    const { entries } = read(mhl([{ path: 'Sidecar.txt', size: 60, hashes: [['xxh64', '70d2cf31aaa3eac4', 'failed']] }]));
    expect(entries).toEqual([{ path: 'Sidecar.txt', bytes: 60, sums: [] }]);
  });
});

describe('hostile and broken lists', () => {
  const good = mhl([{ path: 'a.mov', hashes: [['xxh64', '0ea03b369a463d9d']] }]);
  const list = (path: string) => `f5ac8127b3b6b85cdc13f237c6005d80  ${path}\n`;
  const bomb = (entity: string, use: string) => good.replace('?>', `?><!DOCTYPE hashlist [${entity}]>`).replace('a.mov', use);

  it('the good one is read', () => expect(codeOf(good)).toBe('read'));

  it.each([
    ['entities that grow', bomb('<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">', '&b;'), 'refused-format'],
    ['an entity that names a file', bomb('<!ENTITY f SYSTEM "file:///etc/passwd">', '&f;'), 'refused-format'],
    ['a document type elsewhere', good.replace('?>', '?><!DOCTYPE hashlist SYSTEM "http://127.0.0.1:9/x.dtd">'), 'refused-format'],
    ['an entity nobody declared', good.replace('a.mov', '&f;'), 'manifest-damaged'],
    ['an absolute path', mhl([{ path: '/etc/passwd', hashes: [['xxh64', '0ea03b369a463d9d']] }]), 'manifest-path'],
    ['a path up', mhl([{ path: 'Clips/../../x', hashes: [['xxh64', '0ea03b369a463d9d']] }]), 'manifest-path'],
    ['a previous path up', mhl([{ path: 'x', hashes: [['xxh64', '0ea03b369a463d9d']], previousPath: '../x' }]), 'manifest-path'],
    ['one file twice', mhl([0, 1].map(() => ({ path: 'a.mov', hashes: [['xxh64', '0ea03b369a463d9d']] as [string, string][] }))), 'manifest-duplicate'],
    ['a checksum too short', good.replace('0ea03b369a463d9d', '0ea03b36'), 'manifest-damaged'],
    ['a file without a known checksum', good.replaceAll('xxh64', 'crc32'), 'manifest-damaged'],
    ['cut short', good.slice(0, -60), 'manifest-damaged'],
    ['cut short in the middle of a record', good.slice(0, good.indexOf('</path>') + 3), 'manifest-damaged'],
    ['no file', mhl([]), 'manifest-damaged'],
    ['other XML', '<?xml version="1.0"?><hashlist version="1.1"><hash/></hashlist>', 'manifest-unknown'],
    ['nested without end', `<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">${'<hashes>'.repeat(10_000)}`, 'manifest-damaged'],
    ['a list with an absolute path', list('/Volumes/A001/a.mov'), 'manifest-path'],
    ['a list with a drive letter', list('E:\\DCIM\\a.mov'), 'manifest-path'],
    ['a list with a path up', list('../a.mov'), 'manifest-path'],
    ['a list with a path up, the other way', list('DCIM\\..\\..\\a.mov'), 'manifest-path'],
    ['a list with two checksums of one file', list('a.mov') + list('a.mov').replace('f5', 'f6'), 'manifest-duplicate'],
    ['a list with the same line twice', list('a.mov') + list('a.mov'), 'read'],
    ['a list cut short', list('a.mov') + list('b.mov').slice(0, 20), 'manifest-damaged'],
    ['a list cut after the checksum', list('a.mov') + list('b.mov').slice(0, 32), 'manifest-damaged'],
    ['a list of a kind not known', 'BLAKE2b (a.mov) = 0123456789abcdef\n', 'manifest-unknown'],
    ['words', 'Dear Maren, the tide table is wrong.\n', 'manifest-unknown'],
    ['nothing', '\n\n', 'manifest-damaged'],
    ['bytes that are no text', new Uint8Array([0xff, 0xfe, 0x00, 0x41]), 'manifest-unknown'],
    ['a name that no system takes', list('a\0b.mov'), 'manifest-path'],
    ['a very long path', list('a/'.repeat(3000)), 'manifest-path'],
  ] as const)('%s', (_, text, code) => expect(codeOf(text)).toBe(code));

  it('too many bytes, and too many files', () => {
    expect(codeOf(Buffer.alloc(16 * 1024 * 1024 + 1, 'a'))).toBe('too-large');
    expect(codeOf(Array.from({ length: 100_001 }, (_, n) => `0ea03b369a463d9d  ${n}`).join('\n'))).toBe('too-large');
  });

  it('a list cut anywhere is never read as more than it was', () => {
    const text = mhl([{ path: 'a.mov', hashes: [['xxh64', '0ea03b369a463d9d']] }, { path: 'b.mov', hashes: [['xxh64', '7680e5f98f4a80fd']] }]).trimEnd();
    for (let end = 0; end < text.length; end += 7) expect(codeOf(text.slice(0, end)), `cut after ${end}`).not.toBe('read');
  });
});
