import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { segmentCount } from '#core/hls-time.ts';
import type { Rate } from '#core/rate.ts';

/** A proxy that ffmpeg calls finished and that is not what was asked for. */
export class ProxyUnsound extends Error {
  override readonly name = 'ProxyUnsound';
  readonly code = 'proxy-unsound';
}

/** Frames that cannot be decoded, at the beginning or end of a recording, may be missing for as long as this. */
const MISSING_SECONDS = 1;

/**
 * Checks a finished proxy: the frames of the clip are there, the lists are closed, picture begins at 0, is as long as
 * its frames and cut where frames are looked for, sound begins at 0. A closed list alone does not say so: a terminated
 * ffmpeg closes its lists as well.
 * @param proxy.frames as ffmpeg counted what it wrote.
 * @param proxy.expected as the clip was measured.
 * @throws ProxyUnsound saying what is wrong.
 */
export async function checkProxy(dir: string, { rate, frames, expected: clipFrames, sound }: { rate: Rate; frames: number; expected: number; sound: boolean }): Promise<void> {
  if (frames < 1) throw new ProxyUnsound('No frame of picture was made.');
  if (Math.abs(frames - clipFrames) > (MISSING_SECONDS * rate.num) / rate.den) throw new ProxyUnsound(`The clip has ${clipFrames} frames, and ${frames} could be read.`);
  const picture = await readFile(join(dir, 'picture.m3u8'), 'utf8');
  const lengths = [...picture.matchAll(/^#EXTINF:([\d.]+)/gm)].map(([, seconds]) => Number(seconds));
  const total = lengths.reduce((sum, length) => sum + length, 0);
  const expected = (frames * rate.den) / rate.num;
  // The list states microseconds, one rounding a segment.
  if (Math.abs(total - expected) > 1e-6 * lengths.length + 1e-3) throw new ProxyUnsound(`The picture is ${total} s long, its ${frames} frames are ${expected} s.`);
  if (lengths.length !== segmentCount(frames, rate)) throw new ProxyUnsound(`The picture has ${lengths.length} segments instead of ${segmentCount(frames, rate)}.`);
  for (const name of ['picture', ...(sound ? ['sound'] : [])]) {
    const list = await readFile(join(dir, `${name}.m3u8`), 'utf8');
    if (!list.includes('#EXT-X-ENDLIST')) throw new ProxyUnsound(`The list of the ${name} is not closed.`);
    const [, first] = /^([^#\s].*)$/m.exec(list) ?? [];
    if (first === undefined) throw new ProxyUnsound(`The list of the ${name} is empty.`);
    const start = firstDecodeTime(await readFile(join(dir, first)));
    if (start !== 0n) throw new ProxyUnsound(`The ${name} begins at ${start} instead of 0.`);
  }
}

/** baseMediaDecodeTime of the first track fragment (ISO/IEC 14496-12, 8.8.12); null where there is none. */
export function firstDecodeTime(segment: Buffer): bigint | null {
  const at = segment.indexOf('tfdt', 0, 'latin1');
  if (at < 0) return null;
  return segment[at + 4] === 1 ? segment.readBigUInt64BE(at + 8) : BigInt(segment.readUInt32BE(at + 8));
}
