// What we measure against what ffprobe and MediaInfo say of the same files.
import { execFile } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { rateText, type Rate } from '#core/rate.ts';
import { formatTimecode } from '#core/timecode.ts';
import { findTools, type Tools } from '../../server/platform/ffmpeg.ts';
import { probe, type Probe } from '../../server/proxies/probe.ts';
import { CLIPS, makeClip, type ClipName, type ClipSpec } from '../fixtures/footage.ts';

const run = promisify(execFile);
const NAMES = Object.keys(CLIPS) as ClipName[];
let dir: string;
let tools: Tools;
const measured = {} as Record<ClipName, Probe>;
type Track = Record<string, string>;
const tracks = {} as Record<ClipName, Track[]>;

beforeAll(async () => {
  dir = await mkdtemp(join(tmpdir(), 'probe-'));
  tools = await findTools(process.env['FFMPEG_PATH'] ?? null);
  for (const name of NAMES) {
    await makeClip(CLIPS[name], join(dir, name), tools);
    measured[name] = await probe(join(dir, name), tools);
    const { stdout } = await run('mediainfo', ['--Output=JSON', join(dir, name)]);
    tracks[name] = (JSON.parse(stdout) as { media: { track: Track[] } }).media.track;
  }
}, 300_000);
afterAll(() => rm(dir, { recursive: true, force: true }));

/** MediaInfo's words on the first track of a kind, all of them text. */
const mediainfo = (name: ClipName, type: 'Video' | 'Audio' | 'Other'): Track | undefined => tracks[name].find((track) => track['@type'] === type);

async function ffprobe(name: string, stream: string, ...entries: string[]): Promise<string[]> {
  const args = ['-v', 'error', '-count_frames', '-select_streams', stream, '-show_entries', `stream=${entries.join(',')}`, '-of', 'default=nk=1:nw=1', join(dir, name)];
  return (await run(tools.ffprobe!, args)).stdout.trim().split('\n');
}

describe.each(NAMES)('%s', (name) => {
  const steady = name !== 'phone.mp4';

  it('has the rate and frames that MediaInfo and ffprobe say', async () => {
    const { rate, frames, variableRate } = measured[name];
    const video = mediainfo(name, 'Video')!;
    expect(variableRate).toBe(video['FrameRate_Mode'] === 'VFR');
    expect(variableRate).toBe(!steady);
    expect(await ffprobe(name, 'v:0', 'r_frame_rate')).toEqual([`${rate.num}/${rate.den}`]);
    if (!steady) return;
    expect(rateText(rate)).toBe(String(Number(video['FrameRate'])));
    expect(frames).toBe(Number(video['FrameCount']));
    // Decoded and counted, not taken from an index.
    expect([String(frames)]).toEqual(await ffprobe(name, 'v:0', 'nb_read_frames'));
  });

  it('has the picture that MediaInfo says', () => {
    const { width, height, rotation, bitDepth, videoCodec, colour } = measured[name];
    const video = mediainfo(name, 'Video')!;
    const turned = rotation % 180 === 90;
    expect({ width, height }).toEqual({ width: Number(turned ? video['Height'] : video['Width']), height: Number(turned ? video['Width'] : video['Height']) });
    expect(rotation).toBe(Number(video['Rotation']));
    expect(bitDepth).toBe(Number(video['BitDepth']));
    expect(videoCodec).toBe({ AVC: 'h264', HEVC: 'hevc' }[video['Format']!]);
    expect(colour.primaries).toBe(video['colour_primaries']?.toLowerCase().replace('.', ''));
  });

  it('has the sound that MediaInfo says', () => {
    const sound = mediainfo(name, 'Audio');
    const { audio } = measured[name];
    expect(audio === null).toBe(sound === undefined);
    expect([audio?.channels, audio?.sampleRate]).toEqual(sound ? [Number(sound['Channels']), Number(sound['SamplingRate'])] : [undefined, undefined]);
  });

  it('starts at the timecode that MediaInfo says', () => {
    const { startTimecode, startFrame, dropFrame, rate } = measured[name];
    const track = mediainfo(name, 'Other');
    expect(startTimecode).toBe(track?.['TimeCode_FirstFrame'] ?? null);
    expect(formatTimecode(startFrame, rate, { drop: dropFrame })).toBe(startTimecode ?? '00:00:00:00');
  });

  it('carries the labels it was given', () => {
    const spec: ClipSpec = CLIPS[name];
    const { capturedAt, capturedZone, make, model, reel } = measured[name];
    expect(capturedAt?.getTime()).toBe(spec.capturedAt && Date.parse(spec.capturedAt));
    expect([capturedZone, make, model, reel]).toEqual([spec.capturedAt ? 120 : null, spec.make ?? null, spec.model ?? null, spec.reel ?? null]);
  });

  it('measures the same without ffprobe', async () => {
    expect(await probe(join(dir, name), { ...tools, ffprobe: null })).toEqual(measured[name]);
  });
});

describe('a rate', () => {
  const picture = (rate: string, seconds: number) => ['-f', 'lavfi', '-i', `testsrc2=s=160x90:r=${rate}:d=${seconds}`, '-c:v', 'libx264', '-preset', 'ultrafast'];
  const made = async (file: string, ...args: string[]): Promise<Probe> => {
    await run(tools.ffmpeg, ['-v', 'error', '-y', ...args, join(dir, file)]);
    return probe(join(dir, file), tools);
  };

  // The list of rates: SMPTE ST 12-1:2014 and OpenTimelineIO's own.
  const STANDARD: [string, Rate][] = [
    ['24000/1001', { num: 24000, den: 1001 }], ['24', { num: 24, den: 1 }], ['25', { num: 25, den: 1 }],
    ['30000/1001', { num: 30000, den: 1001 }], ['30', { num: 30, den: 1 }], ['60000/1001', { num: 60000, den: 1001 }],
  ];
  it.each(STANDARD)('of %s is exact in containers that round to milliseconds', async (text, rate) => {
    const { rate: found, variableRate, frames } = await made('rounded.mkv', ...picture(text, 4));
    expect({ found, variableRate, frames }).toEqual({ found: rate, variableRate: false, frames: Math.round((4 * rate.num) / rate.den) });
  });

  it.each(['15', '12.5', '100', '120'])('of %s, no standard one, stays what it is', async (text) => {
    const { rate, variableRate } = await made('odd.mp4', ...picture(text, 2));
    expect([rate.num / rate.den, variableRate]).toEqual([Number(text), false]);
  });

  it('of interlaced picture is that of its frames, not of its fields', async () => {
    const { rate, variableRate } = await made('interlaced.ts', ...picture('25', 2), '-vf', 'scale=160:96', '-flags', '+ildct+ilme', '-x264-params', 'tff=1');
    expect([rate, variableRate]).toEqual([{ num: 25, den: 1 }, false]);
  });

  it('that varies only after the first minute is still called variable', async () => {
    const drop = "select='not(gt(t,70)*eq(mod(n,7),3))'";
    const { variableRate, rate } = await made('late.mp4', ...picture('10', 80), '-vf', `settb=1/90000,${drop}`, '-fps_mode', 'passthrough');
    expect([variableRate, rate.num / rate.den >= 10]).toEqual([true, true]);
  });

  it('where an edit list shows only some of the frames counts those', async () => {
    await made('long.mp4', ...picture('25', 4), '-g', '50');
    const { frames } = await made('trimmed.mp4', '-ss', '1', '-i', join(dir, 'long.mp4'), '-c', 'copy');
    const [, shown] = /(\d+)/.exec((await ffprobe('trimmed.mp4', 'v:0', 'nb_read_frames')).join()) ?? [];
    expect(frames).toBe(Number(shown));
  });
});

it('pixels that are not square make the picture as wide as it is shown', async () => {
  const file = join(dir, 'wide.mp4');
  await run(tools.ffmpeg, ['-v', 'error', '-y', '-f', 'lavfi', '-i', 'testsrc2=s=1440x1080:r=25:d=0.2,setsar=4/3', '-c:v', 'libx264', file]);
  const { width, height } = await probe(file, tools);
  expect([width, height]).toEqual([1920, 1080]);
});

it('a label that does not exist at the rate starts the clip at zero', async () => {
  const file = join(dir, 'label.mp4');
  await run(tools.ffmpeg, ['-v', 'error', '-y', '-f', 'lavfi', '-i', 'testsrc2=s=160x90:r=25:d=0.2', '-metadata', 'timecode=10:00:00:30', '-movflags', 'use_metadata_tags', '-write_tmcd', '0', file]);
  const { startFrame, startTimecode } = await probe(file, tools);
  expect([startFrame, startTimecode]).toEqual([0, null]);
});
