// What a file holds, as ffprobe tells it. Where there is no ffprobe, report-by-ffmpeg.ts tells the same.
import { runFfmpeg } from '../platform/ffmpeg.ts';
import { inputArgs } from './safety.ts';

/** A stream, by ffprobe's names for its properties. */
export interface Stream {
  codec_type?: string;
  codec_name?: string;
  pix_fmt?: string;
  bits_per_raw_sample?: string;
  width?: number;
  height?: number;
  sample_aspect_ratio?: string;
  r_frame_rate?: string;
  avg_frame_rate?: string;
  nb_frames?: string;
  duration?: string;
  start_time?: string;
  channels?: number;
  sample_rate?: string;
  color_primaries?: string;
  color_transfer?: string;
  color_space?: string;
  color_range?: string;
  tags?: Record<string, string>;
  disposition?: { attached_pic?: number };
  side_data_list?: { side_data_type?: string; rotation?: number }[];
}

export interface MediaReport {
  streams: Stream[];
  format: { format_name?: string; duration?: string; start_time?: string; tags?: Record<string, string> };
  /** The packets of the file, or of its first minute where more need not be read. */
  packets: Packets;
}

export interface Packets {
  /** Presentation times of the pictures that are shown, in seconds, rising. */
  times: number[];
  /** How long the last of them stands, in seconds; 0 where the container does not say. */
  lastLength: number;
  /** Where the last packet of any stream ends, in seconds. */
  end: number;
  /** Whether these are all packets of the file. */
  whole: boolean;
}

/** The stream that is the picture: the first that moves, so no cover image. */
export const pictureOf = (streams: readonly Stream[]): Stream | undefined =>
  streams.find(({ codec_type, disposition }) => codec_type === 'video' && !disposition?.attached_pic);

/** As much of a long file as shows whether its clock is steady, when its index says everything else. */
const SAMPLE_SECONDS = 60;

/** Asks ffprobe. @throws FfmpegFailed. */
export async function reportByFfprobe(ffprobe: string, path: string, signal?: AbortSignal): Promise<MediaReport> {
  const parts: Buffer[] = [];
  const header = [...inputArgs(path), '-show_streams', '-show_format', '-of', 'json'];
  await runFfmpeg({ program: ffprobe, args: ['-v', 'error', ...header], signal, pipes: { 1: (chunk) => void parts.push(chunk) } });
  const { streams = [], format = {} } = JSON.parse(Buffer.concat(parts).toString()) as Partial<MediaReport>;
  const picture = pictureOf(streams);
  const whole = !(picture && indexIsEnough(picture));
  return { streams, format, packets: await readPackets(ffprobe, path, streams.indexOf(picture!), whole, signal) };
}

/** Whether the container's own table counts the frames that are shown, at one steady rate. */
function indexIsEnough({ nb_frames, duration, r_frame_rate, avg_frame_rate }: Stream): boolean {
  const [num = 0, den = 0] = (avg_frame_rate ?? '').split('/').map(Number);
  // An edit list that shows only some of the frames makes the length disagree with their number.
  return Number(nb_frames) > 0 && r_frame_rate === avg_frame_rate && Math.abs((Number(duration) * num) / den - Number(nb_frames)) < 0.5;
}

async function readPackets(ffprobe: string, path: string, picture: number, whole: boolean, signal?: AbortSignal): Promise<Packets> {
  const collect = new PacketCollector(picture);
  const sample = whole ? [] : ['-read_intervals', `%+${SAMPLE_SECONDS}`];
  const fields = ['-show_entries', 'packet=stream_index,pts_time,dts_time,duration_time,flags', '-of', 'compact=p=0:nk=0'];
  let rest = '';
  const take = (chunk: Buffer) => {
    const lines = (rest + chunk.toString()).split('\n');
    rest = lines.pop() ?? '';
    for (const line of lines) {
      const { stream_index, pts_time, dts_time, duration_time, flags = '' } = Object.fromEntries(line.split('|').map((pair) => pair.split('='))) as Record<string, string>;
      collect.add({ stream: Number(stream_index), at: seconds(pts_time) ?? seconds(dts_time) ?? Number.NaN, length: Number(duration_time) || 0, shown: !flags.includes('D') });
    }
  };
  await runFfmpeg({ program: ffprobe, args: ['-v', 'error', ...inputArgs(path), ...sample, ...fields], signal, pipes: { 1: take } });
  return collect.result(whole);
}

/** A time as ffprobe writes it; AVI has times of decoding alone, for which the others are "N/A" or left out. */
const seconds = (text: string | undefined): number | null => (text === undefined || text === 'N/A' ? null : Number(text));

/** Gathers packets as they are read. */
export class PacketCollector {
  readonly #picture: number;
  readonly #times: number[] = [];
  #last = { at: -Infinity, length: 0 };
  #end = 0;

  /** @param picture number of the stream that is the picture. */
  constructor(picture: number) {
    this.#picture = picture;
  }

  /** @param packet.shown false for what is decoded and not shown, as before the beginning of an edit list. */
  add({ stream, at, length, shown }: { stream: number; at: number; length: number; shown: boolean }): void {
    if (!Number.isFinite(at)) return;
    this.#end = Math.max(this.#end, at + length);
    if (stream !== this.#picture || !shown) return;
    this.#times.push(at);
    if (at > this.#last.at) this.#last = { at, length };
  }

  result(whole: boolean): Packets {
    return { times: this.#times.sort((a, b) => a - b), lastLength: this.#last.length, end: this.#end, whole };
  }
}
