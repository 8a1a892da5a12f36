import { nearestRate, rate, RATES, type Rate } from '#core/rate.ts';
import { readPlace, type Place } from '#core/place.ts';
import { canDrop, parseTimecode } from '#core/timecode.ts';
import { Refusal } from '../platform/errors.ts';
import type { Tools } from '../platform/ffmpeg.ts';
import { pictureOf, reportByFfprobe, type MediaReport, type Packets, type Stream } from './media-report.ts';
import { reportByFfmpeg } from './report-by-ffmpeg.ts';

/** What a camera file says of itself. Frames and timecode are of the rate the clip is counted at. */
export interface Probe {
  /** Frames per second the clip is counted at; of a variable rate, the nominal one. */
  rate: Rate;
  variableRate: boolean;
  /** Frames of the proxy: those of the file, or at a variable rate the places from the first to the last. */
  frames: number;
  durationSeconds: number;
  /** Picture start after the start of the file, for sound that begins earlier. */
  pictureStart: number;
  /** As shown, with rotation and pixel shape applied. */
  width: number;
  height: number;
  rotation: number;
  squarePixels: boolean;
  videoCodec: string;
  pixelFormat: string;
  bitDepth: number;
  colour: { primaries: string | null; transfer: string | null; matrix: string | null; range: string | null };
  audio: { channels: number; sampleRate: number; codec: string; streams: number } | null;
  startFrame: number;
  dropFrame: boolean;
  startTimecode: string | null;
  capturedAt: Date | null;
  /** Minutes east of UTC, when the camera noted them. */
  capturedZone: number | null;
  make: string | null;
  model: string | null;
  reel: string | null;
  place: Place | null;
}

/** Demuxers of containers that state how long they are; the others are measured by their last packet. */
const STATES_LENGTH = /matroska|avi|mxf|asf|ogg/;
/** By so much a container may overstate its length: a rounded or late-closed one does. */
const OVERSTATED_SECONDS = 1;

/**
 * Measures a file: with ffprobe, or with ffmpeg alone where there is no ffprobe.
 * @throws Refusal `not-a-video` when there is no picture, `cut-short` when the packets end before the stated length;
 *   FfmpegFailed; the reason of the signal.
 */
export async function probe(path: string, { ffmpeg, ffprobe }: Tools, signal?: AbortSignal): Promise<Probe> {
  const report = ffprobe === null ? await reportByFfmpeg(ffmpeg, path, signal) : await reportByFfprobe(ffprobe, path, signal);
  const { streams, format, packets } = report;
  const stream = pictureOf(streams);
  if (!stream?.width || !stream.height || packets.times.length === 0) throw new Refusal('not-a-video');
  const stated = Number(format.duration ?? 0);
  const missing = stated - (packets.end - Number(format.start_time ?? 0));
  if (packets.whole && STATES_LENGTH.test(format.format_name ?? '') && missing > OVERSTATED_SECONDS)
    throw new Refusal('cut-short', `The file says it is ${stated.toFixed(1)} s long and ends ${missing.toFixed(1)} s before that. Copy it again from the card.`);

  const counted = countedRate(stream, packets.times);
  const frames = countFrames(stream, counted, packets);
  return {
    rate: counted.rate,
    variableRate: counted.variable,
    frames,
    durationSeconds: (frames * counted.rate.den) / counted.rate.num,
    pictureStart: Math.max(0, Number(stream.start_time ?? 0) - Number(format.start_time ?? 0)),
    ...shape(stream),
    videoCodec: stream.codec_name ?? 'unknown',
    pixelFormat: stream.pix_fmt ?? 'unknown',
    bitDepth: Number(stream.bits_per_raw_sample) || Number(/p(\d\d)(le|be)$/.exec(stream.pix_fmt ?? '')?.[1] ?? 8),
    colour: {
      primaries: stream.color_primaries ?? null,
      transfer: stream.color_transfer ?? null,
      matrix: stream.color_space ?? null,
      range: stream.color_range ?? null,
    },
    audio: soundOf(streams),
    ...startOf(report, counted.rate),
    ...labelsOf(report),
  };
}

interface Counted {
  rate: Rate;
  variable: boolean;
}

/** A frame as it is shown at a rate: the place on the grid that is nearest, as ffmpeg's fps filter has it. */
const place = (seconds: number, { num, den }: Rate): number => Math.round((seconds * num) / den);

/** A stated rate this far above the usual distance of two frames is the clock's, not the camera's. */
const TOO_FAST = 1.6;

/**
 * The rate a clip is counted at. Steady when each frame falls on a place of its own, without a gap, at a rate the file
 * states; otherwise the stated rate nearest to a standard one, or the standard one nearest to the usual distance of two
 * frames, never the average.
 */
function countedRate(stream: Stream, times: readonly number[]): Counted {
  const first = times[0] ?? 0;
  const average = fraction(stream.avg_frame_rate);
  const nominal = fraction(stream.r_frame_rate);
  const candidates = [average && nearestRate(average), nominal && nearestRate(nominal), average].filter((one) => one !== null);
  const steady = candidates.find((one) => times.every((time, n) => place(time - first, one) === n));
  if (steady) return { rate: steady, variable: false };
  const gaps = times.slice(1).map((time, n) => time - times[n]!).sort((a, b) => a - b);
  const usual = 1 / gaps[Math.floor(gaps.length / 2)]!;
  const standard = nominal && nearestRate(nominal);
  if (standard && standard.num / standard.den < TOO_FAST * usual) return { rate: standard, variable: true };
  const distance = ({ num, den }: Rate) => Math.abs(Math.log(num / den / usual));
  // Phones count in whole frames a second.
  const whole = RATES.filter(({ den }) => den === 1);
  return { rate: whole.reduce((best, other) => (distance(other) < distance(best) ? other : best)), variable: true };
}

/** How many frames the proxy will have. */
function countFrames(stream: Stream, { rate, variable }: Counted, { times, lastLength, whole }: Packets): number {
  if (!whole) return Number(stream.nb_frames);
  if (!variable) return times.length;
  const last = times.at(-1)! - times[0]!;
  return Math.max(place(last, rate) + 1, place(last + lastLength, rate));
}

function fraction(text: string | undefined): Rate | null {
  const [num, den] = (text ?? '').split('/').map(Number);
  return num && den ? rate(num, den) : null;
}

function shape(stream: Stream): Pick<Probe, 'width' | 'height' | 'rotation' | 'squarePixels'> {
  const [sarNum = 1, sarDen = 1] = (stream.sample_aspect_ratio ?? '1:1').split(':').map(Number);
  const square = !sarNum || !sarDen || sarNum === sarDen;
  const width = square ? stream.width! : Math.round((stream.width! * sarNum) / sarDen);
  const turned = stream.side_data_list?.find(({ rotation }) => rotation !== undefined)?.rotation ?? Number(stream.tags?.['rotate'] ?? 0);
  // The display matrix counts anticlockwise; people and players clockwise.
  const rotation = (((-turned % 360) + 360) % 360) | 0;
  const lying = rotation % 180 === 90;
  return { width: lying ? stream.height! : width, height: lying ? width : stream.height!, rotation, squarePixels: square };
}

function soundOf(streams: Stream[]): Probe['audio'] {
  const sounds = streams.filter(({ codec_type }) => codec_type === 'audio');
  const [first] = sounds;
  if (!first?.channels) return null;
  return { channels: first.channels, sampleRate: Number(first.sample_rate ?? 0), codec: first.codec_name ?? 'unknown', streams: sounds.length };
}

function startOf(report: MediaReport, clock: Rate): Pick<Probe, 'startFrame' | 'dropFrame' | 'startTimecode'> {
  const labels = [report.format.tags, ...report.streams.map(({ tags }) => tags)].map((tags) => tags?.['timecode']);
  const label = labels.find((text) => text !== undefined);
  const none = { startFrame: 0, dropFrame: false, startTimecode: null };
  if (label === undefined) return none;
  try {
    const { frame, drop } = parseTimecode(label, clock);
    return { startFrame: frame, dropFrame: drop && canDrop(clock), startTimecode: label };
  } catch {
    // A label that does not exist at this rate says nothing that can be counted from.
    return none;
  }
}

function labelsOf(report: MediaReport): Pick<Probe, 'capturedAt' | 'capturedZone' | 'make' | 'model' | 'reel' | 'place'> {
  const tags = Object.assign({}, ...report.streams.map((stream) => stream.tags ?? {}).reverse(), report.format.tags ?? {}) as Record<string, string>;
  const tag = (...names: string[]) => names.map((name) => tags[name]?.trim()).find((value) => value) ?? null;
  const local = tag('com.apple.quicktime.creationdate');
  const [, sign, hours, minutes] = /([+-])(\d\d):?(\d\d)$/.exec(local ?? '') ?? [];
  const stated = new Date(local?.replace(/([+-]\d\d)(\d\d)$/, '$1:$2') ?? tag('creation_time') ?? Number.NaN);
  // 1904-01-01, the zero of QuickTime's clock, is what cameras write that do not know the time.
  const known = !Number.isNaN(stated.getTime()) && stated.getUTCFullYear() > 1970;
  return {
    capturedAt: known ? stated : null,
    capturedZone: known && sign ? (sign === '-' ? -1 : 1) * (Number(hours) * 60 + Number(minutes)) : null,
    make: tag('com.apple.quicktime.make', 'make', 'com.android.manufacturer'),
    model: tag('com.apple.quicktime.model', 'model', 'com.android.model'),
    reel: tag('reel_name', 'com.apple.quicktime.reel'),
    place: readPlace(tag('com.apple.quicktime.location.ISO6709', 'location', 'location-eng') ?? ''),
  };
}
