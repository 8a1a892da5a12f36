// What ffmpeg may open. An uploaded file is a container of a closed list, told by its first bytes and read with just that
// demuxer list and the file protocol: playlists, concat scripts, image sequences and session descriptions, which can name
// other files or addresses, never reach a demuxer that would follow them (OWASP ASVS 5.0.0, 1.3.6).
import { open } from 'node:fs/promises';
import type { FileHandle } from 'node:fs/promises';
import { FfmpegFailed, runFfmpeg, type Tools } from '../platform/ffmpeg.ts';
import { Refusal } from '../platform/errors.ts';

/** As many first bytes as `sniff` wants. */
export const HEAD_BYTES = 64 * 1024;

/** Demuxers of cameras and phones, by ffmpeg's names. */
const DEMUXERS = 'mov,matroska,mxf,avi,mpegts,mpeg,asf,ogg';

/** Pictures of more pixels than 16K are refused before memory is taken for them: a few bytes can claim any size. */
const MOST_PIXELS = String(16_384 * 8192);

/** Arguments that open a file of ours, and nothing it might refer to. */
export function inputArgs(path: string): string[] {
  return ['-protocol_whitelist', 'file', '-format_whitelist', DEMUXERS, '-max_pixels', MOST_PIXELS, '-i', `file:${path}`];
}

/** Whether the first bytes are text that is a list of other files, whatever the file is called. */
export const isListOfFiles = (head: Buffer): boolean => LISTS.test(head.subarray(0, 512).toString('utf8'));

type Container = 'mov' | 'matroska' | 'avi' | 'other';

const LISTS = /^\uFEFF?\s*(#EXTM3U|ffconcat|<\?xml|<MPD|<svg|<smil|<ASX|v=0\r?\n|\[playlist\]|\[Reference\]|RTSP)/i;

/**
 * Tells a container by its first bytes.
 * @throws Refusal `empty-file`, `refused-format` for lists of files, `not-a-video` for everything else unknown.
 */
export function sniff(head: Buffer): Container {
  if (head.length === 0) throw new Refusal('empty-file');
  const ascii = (from: number, to: number) => head.subarray(from, to).toString('latin1');
  if (isListOfFiles(head)) throw new Refusal('refused-format');
  if (['ftyp', 'moov', 'mdat', 'wide', 'free', 'skip', 'pnot'].includes(ascii(4, 8))) return 'mov';
  if (head.readUInt32BE(0) === 0x1a45dfa3) return 'matroska';
  if (ascii(0, 4) === 'RIFF' && ascii(8, 11) === 'AVI') return 'avi';
  const isMxf = head.indexOf(Buffer.from('060e2b34020501010d0102', 'hex')) >= 0;
  const isTransport = [0, 188, 376].every((at) => head[at] === 0x47) || [4, 196, 388].every((at) => head[at] === 0x47);
  const isProgram = head.readUInt32BE(0) === 0x000001ba;
  const isAsf = head.subarray(0, 4).toString('hex') === '3026b275';
  if (isMxf || isTransport || isProgram || isAsf || ascii(0, 4) === 'OggS') return 'other';
  throw new Refusal('not-a-video');
}

/**
 * Judges a file that arrived whole, before anything is kept of it.
 * @throws Refusal `empty-file`, `not-a-video`, `refused-format`, `cut-short`.
 */
export async function checkOriginal(path: string, tools: Tools, signal?: AbortSignal): Promise<void> {
  const file = await open(path, 'r');
  try {
    const { size } = await file.stat();
    const { buffer, bytesRead } = await file.read(Buffer.alloc(Math.min(size, HEAD_BYTES)), 0, Math.min(size, HEAD_BYTES), 0);
    const container = sniff(pad(buffer.subarray(0, bytesRead)));
    if (container === 'mov') await checkBoxes(file, size);
    if (container === 'matroska') checkSegment(buffer.subarray(0, bytesRead), size);
    if (container === 'avi' && buffer.readUInt32LE(4) + 8 > size) throw new Refusal('cut-short');
  } finally {
    await file.close();
  }
  await checkReadable(path, tools, signal);
}

/** Four bytes can be read of any file that is not empty. */
function pad(head: Buffer): Buffer {
  return head.length === 0 || head.length >= 16 ? head : Buffer.concat([head, Buffer.alloc(16)]);
}

/** Top-level boxes must end inside the file, and the index must be among them (ISO/IEC 14496-12, 4.2). */
async function checkBoxes(file: FileHandle, size: number): Promise<void> {
  const header = Buffer.alloc(16);
  let at = 0;
  let index = false;
  while (at + 8 <= size) {
    await file.read(header, 0, 16, at);
    const short = header.readUInt32BE(0);
    const type = header.toString('latin1', 4, 8);
    const length = short === 1 ? Number(header.readBigUInt64BE(8)) : short === 0 ? size - at : short;
    if (!/^[\x20-\x7e\xa9]{4}$/.test(type) || length < 8) break;
    if (at + length > size) throw new Refusal('cut-short', `The file ends ${at + length - size} bytes before its "${type}" part does. Copy it again from the card.`);
    index ||= type === 'moov';
    at += length;
  }
  if (!index) throw new Refusal('cut-short', 'The file has no index: the recording was not closed, or the copy is not whole.');
}

/** The Segment of a Matroska file says how long it is, unless it was written live (RFC 9559, 4.5; RFC 8794, 4 and 6). */
function checkSegment(head: Buffer, size: number): void {
  const at = head.indexOf(Buffer.from('18538067', 'hex'));
  const first = head[at + 4] ?? 0;
  const width = Math.clz32(first) - 23;
  if (at < 0 || width > 8 || at + 4 + width > head.length) return;
  const rest = head.subarray(at + 5, at + 4 + width);
  const marked = first & (0xff >> width);
  const unknown = marked === 0xff >> width && rest.every((byte) => byte === 0xff);
  const length = rest.reduce((sum, byte) => sum * 256 + byte, marked);
  const missing = at + 4 + width + length - size;
  if (!unknown && missing > 0) throw new Refusal('cut-short', `The file ends ${missing} bytes before it says it does. Copy it again from the card.`);
}

/** What ffmpeg says of a track whose data lies in another file; it does not follow it unless told to. */
const ELSEWHERE = /enable_drefs|external track/i;

async function checkReadable(path: string, { ffmpeg }: Tools, signal?: AbortSignal): Promise<void> {
  const args = ['-hide_banner', '-nostdin', '-v', 'warning', ...inputArgs(path), '-map', '0:V:0', '-c', 'copy', '-frames:v', '1', '-f', 'null', '-'];
  const said = await runFfmpeg({ program: ffmpeg, args, signal }).catch((error: unknown) => {
    if (!(error instanceof FfmpegFailed)) throw error;
    const refers = ELSEWHERE.test(error.stderrTail) || /whitelist/i.test(error.stderrTail);
    throw new Refusal(refers ? 'refused-format' : 'not-a-video', undefined, { cause: error });
  });
  if (ELSEWHERE.test(said)) throw new Refusal('refused-format', 'A track of this file lies in another file.');
}
