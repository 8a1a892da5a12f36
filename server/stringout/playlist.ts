// A version of the string-out as one HLS presentation: pieces follow one another without a break, since each fragment is
// told on its way out where it lies in the film. Source: RFC 8216; ISO/IEC 14496-12, 8.8.12 (track fragment decode time).
import { segmentCount, segmentRange } from '#core/hls-time.ts';
import type { Rate } from '#core/rate.ts';
import type { StringOutVersion } from './contract.ts';
import { pictureFile, PICTURE_INIT } from './pieces.ts';

/** @param init first bytes of a piece, for the codec; all pieces begin with the same */
export function masterPlaylist(init: Buffer): string {
  return [
    '#EXTM3U',
    '#EXT-X-VERSION:7',
    '#EXT-X-INDEPENDENT-SEGMENTS',
    '#EXT-X-MEDIA:TYPE=AUDIO,GROUP-ID="sound",NAME="sound",DEFAULT=YES,AUTOSELECT=YES,URI="sound.m3u8"',
    `#EXT-X-STREAM-INF:BANDWIDTH=4500000,CODECS="${codecOf(init)},mp4a.40.2",RESOLUTION=960x540,AUDIO="sound"`,
    'picture.m3u8',
    '',
  ].join('\n');
}

/** Addresses are relative to /string-out/<version>/. */
export function picturePlaylist({ rate, stretches }: StringOutVersion): string {
  const lengths: string[] = [];
  let longest = 1;
  for (const { piece, film } of stretches) {
    const frames = film.outExclusive - film.in;
    for (let n = 0; n < segmentCount(frames, rate); n++) {
      const range = segmentRange(n, rate, frames);
      const seconds = ((range.outExclusive - range.in) * rate.den) / rate.num;
      longest = Math.max(longest, Math.round(seconds));
      lengths.push(`#EXTINF:${seconds.toFixed(6)},`, `pieces/${piece}/${film.in}/${pictureFile(n)}`);
    }
  }
  const first = stretches[0]?.piece ?? '';
  return ['#EXTM3U', '#EXT-X-VERSION:7', `#EXT-X-TARGETDURATION:${longest}`, '#EXT-X-PLAYLIST-TYPE:VOD', '#EXT-X-INDEPENDENT-SEGMENTS', `#EXT-X-MAP:URI="pieces/${first}/0/${PICTURE_INIT}"`, ...lengths, '#EXT-X-ENDLIST', ''].join('\n');
}

/** "avc1.…" of RFC 6381 from the decoder's configuration record. Throws RangeError where there is none. */
export function codecOf(init: Buffer): string {
  const at = init.indexOf('avcC', 0, 'latin1');
  if (at < 0) throw new RangeError('No avcC box.');
  return `avc1.${init.subarray(at + 5, at + 8).toString('hex')}`;
}

/** Ticks a second of the track in a first file (mdhd). Throws RangeError where there is none. */
export function timescaleOf(init: Buffer): number {
  const at = init.indexOf('mdhd', 0, 'latin1');
  if (at < 0) throw new RangeError('No mdhd box.');
  return init.readUInt32BE(at + (init[at + 4] === 1 ? 24 : 16));
}

/** A fragment moved by whole frames of the film: its decode times are raised in place. Throws RangeError where ticks and frames do not meet. */
export function movedBy(segment: Buffer, frames: number, rate: Rate, timescale: number): Buffer {
  const ticks = BigInt(frames) * BigInt(rate.den) * BigInt(timescale);
  if (ticks % BigInt(rate.num) !== 0n) throw new RangeError(`A frame is no whole number of ticks at ${timescale}.`);
  const by = ticks / BigInt(rate.num);
  for (let at = segment.indexOf('tfdt', 0, 'latin1'); at >= 0; at = nextTfdt(segment, at)) {
    if (segment[at + 4] === 1) segment.writeBigUInt64BE(segment.readBigUInt64BE(at + 8) + by, at + 8);
    else segment.writeUInt32BE(Number(BigInt(segment.readUInt32BE(at + 8)) + by), at + 8);
  }
  return segment;
}

/** The next one lies in the next moof, and never in the media between: there the four letters may stand by chance. */
function nextTfdt(segment: Buffer, after: number): number {
  let at = 0;
  while (at + 8 <= segment.length) {
    const size = segment.readUInt32BE(at);
    if (size < 8) return -1;
    if (at > after && segment.toString('latin1', at + 4, at + 8) === 'moof') return segment.subarray(0, at + size).indexOf('tfdt', at, 'latin1');
    at += size;
  }
  return -1;
}
