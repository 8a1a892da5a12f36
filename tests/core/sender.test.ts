import { mkdtempSync, appendFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { Memory } from '../../server/sender/memory.ts';
import { bytesText, Progress, timeText } from '../../server/sender/progress.ts';
import { Standing, type Found } from '../../server/sender/walk.ts';

const found = (path: string, size: number, mtimeMs = 1): Found => ({ file: `/card/${path}`, path, size, mtimeMs });

describe('what stands still', () => {
  it('is a file whose size and time have not changed for long enough, as it was seen to', () => {
    const standing = new Standing(10_000, 0);
    const paths = (files: Found[], now: number) => standing.look(files, now).map(({ path }) => path);
    expect(paths([found('a', 1), found('b', 1)], 0)).toEqual([]);
    expect(paths([found('a', 1), found('b', 2)], 6000)).toEqual([]);
    expect(paths([found('a', 1), found('b', 2)], 10_000)).toEqual(['a']);
    expect(paths([found('a', 1), found('b', 2, 5)], 15_999)).toEqual(['a']);
    expect(standing.changedAt).toBe(15_999);
    expect(paths([found('a', 1), found('b', 2, 5)], 25_999)).toEqual(['a', 'b']);
    // One that went away and came back is looked at anew.
    expect(paths([found('b', 2, 5)], 26_000)).toEqual(['b']);
    expect(standing.changedAt).toBe(26_000);
    expect(paths([found('a', 1), found('b', 2, 5)], 27_000)).toEqual(['b']);
  });
});

describe('what is remembered', () => {
  let dir: string;
  beforeEach(() => (dir = mkdtempSync(join(tmpdir(), 'rushlight-memory-'))));
  afterEach(() => rmSync(dir, { recursive: true, force: true }));

  it('outlives the run, speaks of the very file only, and does not mind a line that was cut off', async () => {
    const about = ['/card', 'http://localhost', 'film', 'card'];
    const first = new Memory(dir, about);
    await first.keep(found('a', 5), { xxh64: '0ea03b369a463d9d' });
    await first.keep(found('a', 5), { upload: '/api/films/f/uploads/u' });
    const [file] = readdirSync(join(dir, 'rushlight-send'));
    appendFileSync(join(dir, 'rushlight-send', file!), '\n{"path":"b","size":5,"mtimeMs":1,"xxh');
    const next = new Memory(dir, about);
    expect([next.sumOf(found('a', 5)), next.uploadOf(found('a', 5))]).toEqual(['0ea03b369a463d9d', '/api/films/f/uploads/u']);
    expect([next.sumOf(found('a', 6)), next.sumOf(found('a', 5, 2)), next.sumOf(found('b', 5))]).toEqual([null, null, null]);
    expect(new Memory(dir, [...about, 'another']).sumOf(found('a', 5))).toBeNull();
    await next.keep(found('c', 7), { xxh64: '7680e5f98f4a80fd' });
    expect(new Memory(dir, about).sumOf(found('c', 7))).toBe('7680e5f98f4a80fd');
    await next.forget();
    expect(new Memory(dir, about).sumOf(found('a', 5))).toBeNull();
  });
});

describe('progress', () => {
  it('tells how far it is, how fast, and how long it will take', () => {
    const progress = new Progress({ write: () => true });
    progress.expect([found('a', 1_000_000), found('b', 3_000_000)]);
    progress.words(0);
    progress.tell(found('a', 1_000_000), { summed: 1_000_000 }, 1000);
    expect(progress.words(1000)).toBe('0 of 2 files, 12 % of 4.0 MB, 500 kB/s, 7 s left');
    progress.tell(found('a', 1_000_000), { sent: 1_000_000 }, 2000);
    progress.arrived = 1;
    expect(progress.words(2000)).toBe('1 of 2 files, 25 % of 4.0 MB, 500 kB/s, 6 s left');
  });

  it('shows what a terminal would obey', () => {
    let written = '';
    new Progress({ write: (text) => (written += text) }).say('a\u001b[2Jb\u0007.mp4: arrived');
    expect(written).toBe('a\\x1b[2Jb\\x07.mp4: arrived\n');
  });

  it.each([
    [0.2, '1 s'],
    [89, '89 s'],
    [600, '10 min'],
    [7500, '2 h 5 min'],
  ])('%d seconds are %s', (seconds, words) => expect(timeText(seconds)).toBe(words));

  it.each([
    [0, '0 bytes'],
    [999, '999 bytes'],
    [1500, '1.5 kB'],
    [64_000_000_000, '64 GB'],
  ])('%d bytes are %s', (bytes, words) => expect(bytesText(bytes)).toBe(words));
});
