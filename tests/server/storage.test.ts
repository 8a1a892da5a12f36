import { mkdtempSync, writeFileSync } from 'node:fs';
import { readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, it } from 'vitest';
import { openLocalStorage } from '../../server/platform/storage.ts';

const root = mkdtempSync(join(tmpdir(), 'rushlight-storage-'));
const storage = openLocalStorage(join(root, 'media'));
afterAll(() => rm(root, { recursive: true, force: true }));

function file(text: string): string {
  const path = join(root, 'made');
  writeFileSync(path, text);
  return path;
}

describe('storage', () => {
  it('moves a file in and never over one that is there', async () => {
    await storage.moveIn(file('first'), 'originals', 'film/A001/clip.mov');
    await expect(storage.moveIn(file('second'), 'originals', 'film/A001/clip.mov')).rejects.toMatchObject({ code: 'EEXIST' });
    expect(await readFile(storage.path('originals', 'film/A001/clip.mov'), 'utf8')).toBe('first');
    expect(await storage.list('originals', 'film/A001')).toEqual(['clip.mov']);
  });

  it.each(['../auth.secret', 'a/../../x', '/etc/passwd/../../..'])('does not leave its area for %s', (name) => {
    expect(() => storage.path('originals', name)).toThrow(RangeError);
  });

  it('reads a stretch of a file', async () => {
    await storage.moveIn(file('0123456789'), 'incoming', 'digits');
    const parts: Buffer[] = [];
    for await (const part of storage.openRange('incoming', 'digits', { start: 2, endInclusive: 4 })) parts.push(part as Buffer);
    expect(Buffer.concat(parts).toString()).toBe('234');
  });

  it('knows how much room is left', async () => {
    expect(await storage.freeSpace()).toBeGreaterThan(0);
  });
});
