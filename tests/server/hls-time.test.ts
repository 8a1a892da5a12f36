import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import HLS from 'hls-parser';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { segmentCount, segmentRange, segmentSeconds } from '#core/hls-time.ts';
import { frameFromMediaTime, nominal, rate, type Rate } from '#core/rate.ts';

const run = promisify(execFile);
let folder: string;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'hls-time-'));
});
afterAll(() => rm(folder, { recursive: true, force: true }));

/** How many frames ffmpeg puts into each segment of a picture of `total` frames. */
async function cuts(r: Rate, total: number, segmentLength: number): Promise<number[]> {
  const list = join(folder, `${r.num}-${segmentLength}.m3u8`);
  const group = String(nominal(r));
  await run(process.env['FFMPEG_PATH'] ?? 'ffmpeg', [
    ...['-v', 'error', '-f', 'lavfi', '-i', `color=s=32x32:r=${r.num}/${r.den}`, '-frames:v', String(total)],
    ...['-c:v', 'libx264', '-preset', 'ultrafast', '-bf', '0'],
    ...['-g', group, '-keyint_min', group, '-sc_threshold', '0'],
    ...['-f', 'hls', '-hls_time', String(segmentLength), '-hls_segment_type', 'fmp4', '-hls_flags', 'single_file'],
    ...['-hls_playlist_type', 'event', list],
  ]);
  const parsed = HLS.parse(await readFile(list, 'utf8'));
  if (parsed.isMasterPlaylist) throw new Error('A media playlist was expected.');
  return (parsed as HLS.types.MediaPlaylist).segments.map((segment) => frameFromMediaTime(segment.duration, r));
}

// The judge is ffmpeg, over more than the thousand seconds after which rounding would show.
describe('where ffmpeg cuts', () => {
  const CUT = [rate(24000, 1001), rate(25), rate(30000, 1001), rate(25, 2)];
  it.each(CUT)('is where segmentRange says, at %o', async (r) => {
    const total = Math.ceil((1100 * r.num) / r.den) + 7;
    const ours = Array.from({ length: segmentCount(total, r) }, (_, k) => segmentRange(k, r, total));
    expect(await cuts(r, total, segmentSeconds(r))).toEqual(ours.map((range) => range.outExclusive - range.in));
  });

  it('is elsewhere when it is told two seconds at 29.97, which is why it is told 2.002', async () => {
    expect(await cuts(rate(30000, 1001), 33_000, 2)).toContain(30);
  });
});
