// A real full disk: the media folder on a small file system of its own, where this machine lets us mount one.
import { execFileSync } from 'node:child_process';
import { chmodSync, mkdtempSync, readdirSync, statfsSync, writeFileSync, unlinkSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startRig, type Rig } from '../fixtures/rig.ts';
import { smallClip } from '../fixtures/small-clip.ts';
import { tusAs } from '../fixtures/tus.ts';

const DISK_BYTES = 96 * 1024 * 1024;
const mountPoint = mkdtempSync(join(tmpdir(), 'rushlight-small-disk-'));
chmodSync(mountPoint, 0o755);
const mounted = mountSmallDisk();

let rig: Rig;
beforeAll(async () => {
  if (mounted) rig = await startRig({ DATA_DIR: mountPoint });
});
afterAll(async () => {
  try {
    await rig?.close();
  } finally {
    // Lazily: a server that failed to close must not leave a mount behind.
    if (mounted) execFileSync('umount', ['-l', mountPoint]);
    await rm(mountPoint, { recursive: true, force: true });
  }
});

function mountSmallDisk(): boolean {
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', `size=${DISK_BYTES}`, 'tmpfs', mountPoint], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

const media = (area: 'incoming' | 'originals') => rig.ground.storage.path(area, '');
const code = async (answer: Response) => ((await answer.json()) as { code: string }).code;

/** Fills the disk so far that `left` bytes stay. */
function fill(left: number): string {
  const { bavail, bsize } = statfsSync(mountPoint);
  const file = join(mountPoint, 'ballast');
  writeFileSync(file, Buffer.alloc(Math.max(0, bavail * bsize - left)));
  return file;
}

// Mounting needs root; the container of .ci/run has it.
it.runIf(mounted)('a file that cannot fit is refused before a byte of it is sent, and the card\'s page knows', async () => {
  const tus = tusAs(rig.as('field'), rig.film);
  const answer = await tus.create({ 'upload-length': String(DISK_BYTES) });
  expect([answer.status, await code(answer)]).toEqual([507, 'disk-full']);
  expect(await rig.db.upload.findFirst({ where: { state: 'refused' } })).toMatchObject({ refusal: { code: 'disk-full' } });
});

it.runIf(mounted)('a disk that fills up while a file comes in: 507, nothing half kept, and the rest of the card arrives when there is room', async () => {
  const tus = tusAs(rig.as('field'), rig.film);
  const before = await smallClip();
  expect((await tus.whole(before, { card: 'F001', filename: 'before.mp4' })).status).toBe(204);

  const bytes = await smallClip({ padding: 8 * 1024 * 1024 });
  const url = await tus.begin(bytes.byteLength, { card: 'F001', filename: 'during.mp4' });
  const plainly = new FormData();
  plainly.append('file', new File([new Uint8Array(bytes)], 'plain.mp4'));
  const ballast = fill(2 * 1024 * 1024);
  try {
    const answer = await tus.patch(url, 0, bytes);
    expect([answer.status, await code(answer)]).toEqual([507, 'disk-full']);
    const other = await rig.as('field').fetch(rig.at('/clips/files'), { method: 'POST', body: plainly });
    expect([other.status, await code(other)]).toEqual([507, 'disk-full']);
    expect(readdirSync(media('incoming'))).toEqual([]);
    expect(await rig.db.upload.findUniqueOrThrow({ where: { id: url.split('/').at(-1)! } })).toMatchObject({ state: 'refused', refusal: { code: 'disk-full' } });
  } finally {
    unlinkSync(ballast);
  }

  expect((await tus.whole(bytes, { card: 'F001', filename: 'during.mp4' })).status).toBe(204);
  const clips = await rig.db.clip.findMany({ where: { card: 'F001' }, orderBy: { receivedAt: 'asc' } });
  expect(clips.map(({ name }) => name)).toEqual(['before.mp4', 'during.mp4']);
  expect(readdirSync(media('incoming'))).toEqual([]);
});
