// The same report without ffprobe, which the package ffmpeg-static does not bring: ffmpeg's own words about its input,
// and the packets of the whole file, copied into checksums (framecrc), which name exact times.
import { runFfmpeg } from '../platform/ffmpeg.ts';
import { PacketCollector, pictureOf, type MediaReport, type Stream } from './media-report.ts';
import { inputArgs } from './safety.ts';

const INPUT_LINE = /^Input #0, (.+), from /;
const LENGTH_LINE = /^ {2}Duration: (?:(\d+):(\d\d):(\d\d\.\d+)|N\/A)(?:, start: (-?[\d.]+))?/;
const STREAM_LINE = /^ {2}Stream #0:\d+\S*: (Video|Audio|Data|Subtitle|Attachment): (.*)$/;
const TAG_LINE = /^ {4,}(\S[^:]*?)\s*: (.*)$/;
const TURNED_LINE = /^ {6}displaymatrix: rotation of (-?[\d.]+) degrees/;

/** Asks ffmpeg. @throws FfmpegFailed, also for a file with neither picture nor sound. */
export async function reportByFfmpeg(ffmpeg: string, path: string, signal?: AbortSignal): Promise<MediaReport> {
  let said = '';
  const sums = new SumReader();
  const copy = ['-map', '0:V:0?', '-map', '0:a?', '-c', 'copy', '-f', 'framecrc', 'pipe:1'];
  await runFfmpeg({
    program: ffmpeg,
    args: ['-hide_banner', '-nostdin', '-nostats', '-copyts', ...inputArgs(path), ...copy],
    signal,
    onStderr: (text) => (said += text),
    pipes: { 1: (chunk) => sums.take(chunk) },
  });
  const { streams, format } = readWords(said);
  const picture = pictureOf(streams);
  const packets = sums.packets.result(true);
  const { times } = packets;
  const first = times[0] ?? 0;
  if (picture) {
    picture.start_time = String(first);
    // The words round to two decimals; the times do not.
    const span = Math.round((times.at(-1)! - first) * 1e6);
    if (span > 0) picture.avg_frame_rate = `${(times.length - 1) * 1e6}/${span}`;
  }
  return { streams, format, packets };
}

/** Reads lines "stream, dts, pts, duration, size, checksum" below headers "#tb stream: 1/24000". */
class SumReader {
  readonly packets = new PacketCollector(0);
  readonly #clocks: number[] = [];
  #rest = '';

  take(chunk: Buffer): void {
    const lines = (this.#rest + chunk.toString()).split('\n');
    this.#rest = lines.pop() ?? '';
    for (const line of lines) {
      const [, index, num, den] = /^#tb (\d+): (\d+)\/(\d+)/.exec(line) ?? [];
      if (index !== undefined) this.#clocks[Number(index)] = Number(num) / Number(den);
      if (line.startsWith('#')) continue;
      const [stream = 0, dts = Number.NaN, pts = Number.NaN, length = 0] = line.split(',').map(Number);
      const clock = this.#clocks[stream] ?? Number.NaN;
      // AVI has times of decoding alone; the others are "NOPTS" then.
      this.packets.add({ stream, at: (Number.isNaN(pts) ? dts : pts) * clock, length: length * clock, shown: true });
    }
  }
}

/** What ffmpeg says of its input, in ffprobe's names. */
export function readWords(said: string): Pick<MediaReport, 'streams' | 'format'> {
  const format: MediaReport['format'] = { tags: {} };
  const streams: Stream[] = [];
  const lines = said.split('\n');
  const from = lines.findIndex((line) => INPUT_LINE.test(line));
  for (const line of from < 0 ? [] : lines.slice(from)) {
    if (/^(Output #0|Stream mapping:)/.test(line)) break;
    const names = INPUT_LINE.exec(line);
    const length = LENGTH_LINE.exec(line);
    const stream = STREAM_LINE.exec(line);
    const turned = TURNED_LINE.exec(line);
    const tag = TAG_LINE.exec(line);
    if (names) format.format_name = names[1]!;
    else if (length) {
      const [, hours, minutes, seconds, start] = length;
      if (hours !== undefined) format.duration = String(Number(hours) * 3600 + Number(minutes) * 60 + Number(seconds));
      if (start !== undefined) format.start_time = start;
    } else if (stream) streams.push(readStream(stream[1]!, stream[2]!));
    else if (turned) streams.at(-1)!.side_data_list = [{ rotation: Number(turned[1]) }];
    else if (tag) ((streams.at(-1) ?? format).tags ??= {})[tag[1]!] ??= tag[2]!;
  }
  return { streams, format };
}

function readStream(type: string, words: string): Stream {
  const codec = /^\w+/.exec(words)?.[0] ?? 'unknown';
  const [, hertz, layout] = /(\d+) Hz, ([^,]+)/.exec(words) ?? [];
  if (type === 'Audio') return { codec_type: 'audio', codec_name: codec, sample_rate: hertz ?? '0', channels: channelsOf(layout ?? '') };
  if (type !== 'Video') return { codec_type: type.toLowerCase() };
  const [, pixels, inside = ''] = /, ([a-z]\w+)(?:\(([^)]*)\))?(?:, |$)/.exec(words) ?? [];
  const [, width, height, sar] = /, (\d+)x(\d+)(?: \[SAR (\d+:\d+))?/.exec(words) ?? [];
  const [, rate, kilo] = /([\d.]+)(k?) tbr/.exec(words) ?? [];
  const colour = inside.split(', ');
  // One word where all three are the same, otherwise matrix/primaries/transfer.
  const [matrix, primaries = matrix, transfer = matrix] = colour.find((word) => /^(bt|smpte|arib|gbr|unknown\/|[\w-]+\/)/.test(word))?.split('/') ?? [];
  const known = (word: string | undefined) => (word === undefined || word === 'unknown' ? undefined : word);
  const optional = {
    sample_aspect_ratio: sar,
    r_frame_rate: rate && `${Math.round(Number(rate) * (kilo ? 1e6 : 1000))}/1000`,
    color_range: colour.find((word) => word === 'tv' || word === 'pc'),
    color_space: known(matrix),
    color_primaries: known(primaries),
    color_transfer: known(transfer),
  };
  return {
    ...(Object.fromEntries(Object.entries(optional).filter(([, value]) => value !== undefined)) as Partial<Stream>),
    codec_type: 'video',
    codec_name: codec,
    pix_fmt: pixels ?? 'unknown',
    width: Number(width ?? 0),
    height: Number(height ?? 0),
    disposition: { attached_pic: words.includes('(attached pic)') ? 1 : 0 },
  };
}

function channelsOf(layout: string): number {
  const named = { mono: 1, stereo: 2, quad: 4, hexagonal: 6, octagonal: 8 }[/^\w+/.exec(layout)?.[0] ?? ''];
  const [, counted] = /^(\d+) channels/.exec(layout) ?? [];
  const [, around, low] = /^(\d)\.(\d)/.exec(layout) ?? [];
  return named ?? Number(counted ?? Number(around ?? 0) + Number(low ?? 0));
}
