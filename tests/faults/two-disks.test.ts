// Originals on a disk of their own: a file moves in by being copied, and nobody ever sees half of it under its name.
import { execFileSync, fork } from 'node:child_process';
import { once } from 'node:events';
import { chmodSync, existsSync, linkSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { sweepIntake } from '../../server/intake/index.ts';
import { MOVING } from '../../server/platform/storage.ts';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { tusAs } from '../fixtures/tus.ts';

const MOVER = fileURLToPath(new URL('../fixtures/move-in.ts', import.meta.url));
const DISK_BYTES = 192 * 1024 * 1024;
/** Large enough that a kill can meet the copy of it half done. */
const FILE_BYTES = 64 * 1024 * 1024;
const TRIES = 50;

const dataDir = mkdtempSync(join(tmpdir(), 'rushlight-two-disks-'));
chmodSync(dataDir, 0o755);
const originals = join(dataDir, 'media', 'originals');
const mounted = mountOriginals();

let rig: Rig;
beforeAll(async () => {
  if (mounted) rig = await startRig({ DATA_DIR: dataDir });
});
afterAll(async () => {
  try {
    await rig?.close();
  } finally {
    // Lazily: a server that failed to close must not leave a mount behind.
    if (mounted) execFileSync('umount', ['-l', originals]);
    await rm(dataDir, { recursive: true, force: true });
  }
});

function mountOriginals(): boolean {
  mkdirSync(originals, { recursive: true });
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${DISK_BYTES}`, 'tmpfs', originals], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

const moving = () => readdirSync(join(originals, MOVING));
const incoming = (name: string) => rig.ground.storage.path('incoming', name);

// Mounting needs root; the container of .ci/run has it.
it.runIf(mounted)('an upload becomes a clip, byte for byte, and nothing else is left', async () => {
  expect(statSync(originals).dev).not.toBe(statSync(incoming('')).dev);
  const bytes = await smallClip({ padding: 1_000_000 });
  expect((await tusAs(rig.as('field'), rig.film).whole(bytes, { filename: 'across.mp4' })).status).toBe(204);
  const clip = await rig.db.clip.findFirstOrThrow({ where: { name: 'across.mp4' } });
  expect(readFileSync(rig.ground.storage.path('originals', clip.originalPath)).equals(bytes)).toBe(true);
  expect([moving(), readdirSync(incoming(''))]).toEqual([[], []]);
});

it.runIf(mounted)('a name that is taken keeps its file, and the one that came stays where it was', async () => {
  writeFileSync(join(originals, 'taken.mov'), 'first');
  writeFileSync(incoming('second'), 'second');
  await expect(rig.ground.storage.moveIn(incoming('second'), 'originals', 'taken.mov')).rejects.toMatchObject({ code: 'EEXIST' });
  expect([readFileSync(join(originals, 'taken.mov'), 'utf8'), readFileSync(incoming('second'), 'utf8'), moving()]).toEqual(['first', 'second', []]);
  expect(await rig.ground.storage.finishMove(incoming('second'), 'originals', 'taken.mov')).toBe(false);
  await rm(incoming('second'));
});

it.runIf(mounted)('a process killed in the middle of the copy leaves the whole file in one place, and it moves in the next time', async () => {
  const from = incoming('large');
  const to = join(originals, 'large.mov');
  const draft = join(originals, MOVING, 'large');
  const bytes = Buffer.alloc(FILE_BYTES, 'rushlight ');
  const sizeOf = (path: string) => statSync(path, { throwIfNoEntry: false })?.size ?? 0;
  let halves = 0;
  for (let n = 0; n < TRIES && halves < 3; n++) {
    writeFileSync(from, bytes);
    const child = fork(MOVER, [join(dataDir, 'media'), from, 'large.mov']);
    const gone = once(child, 'exit');
    await once(child, 'message');
    child.send('go');
    while (sizeOf(draft) === 0 && !existsSync(to)) await new Promise((later) => setImmediate(later));
    child.kill('SIGKILL');
    await gone;
    const half = sizeOf(draft);
    if (half > 0 && half < FILE_BYTES) {
      halves += 1;
      expect(existsSync(to)).toBe(false);
      expect(sizeOf(from)).toBe(FILE_BYTES);
    }
    if (!(await rig.ground.storage.finishMove(from, 'originals', 'large.mov'))) await rig.ground.storage.moveIn(from, 'originals', 'large.mov');
    expect(readFileSync(to).equals(bytes)).toBe(true);
    expect([existsSync(from), moving()]).toEqual([false, []]);
    await rm(to);
  }
  expect(halves).toBe(3);
});

it.runIf(mounted)('a move cut off after the file had its name is known and ended', async () => {
  writeFileSync(incoming('named'), 'bytes');
  writeFileSync(join(originals, MOVING, 'named'), 'bytes');
  linkSync(join(originals, MOVING, 'named'), join(originals, 'named.mov'));
  expect(await rig.ground.storage.finishMove(incoming('named'), 'originals', 'named.mov')).toBe(true);
  expect([existsSync(incoming('named')), moving(), statSync(join(originals, 'named.mov')).nlink]).toEqual([false, [], 1]);
});

it.runIf(mounted)('a copy nobody goes on with is swept away', async () => {
  writeFileSync(join(originals, MOVING, crypto.randomUUID()), 'half');
  await sweepIntake(rig.ground);
  expect(moving()).toEqual([]);
});
