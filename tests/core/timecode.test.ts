import Timecode from 'smpte-timecode';
import { describe, expect, it } from 'vitest';
import { RATES, frameStartSeconds, nominal, rate, rateText } from '#core/rate.ts';
import {
  TimecodeError,
  canDrop,
  dayFrames,
  formatTimecode,
  frameOfTimecode,
  parseTimecode,
  timecodeOf,
} from '#core/timecode.ts';
import { WORKED, clockNamed } from './timecode-vectors.ts';

function refusal(act: () => unknown): TimecodeError {
  try {
    act();
  } catch (error) {
    if (error instanceof TimecodeError) return error;
    throw error;
  }
  throw new Error('Nothing was refused.');
}

describe('published values', () => {
  it('are all here', () => {
    expect(WORKED).toHaveLength(73);
  });

  it.each(WORKED)('%s %s is frame %d, %s s (%s)', (name, label, frame, time) => {
    const clock = clockNamed(name);
    expect(parseTimecode(label, clock.rate)).toEqual({ frame, drop: clock.drop });
    expect(formatTimecode(frame, clock.rate, clock)).toBe(label);
    expect(frameStartSeconds(frame, clock.rate).toFixed(6)).toBe(time);
  });

  // Frames in 24 hours of labels: S5's totals.
  it.each([
    ['23.976', 2073600],
    ['24', 2073600],
    ['25', 2160000],
    ['29.97ND', 2592000],
    ['29.97DF', 2589408],
    ['30', 2592000],
    ['47.952', 4147200],
    ['48', 4147200],
    ['50', 4320000],
    ['59.94ND', 5184000],
    ['59.94DF', 5178816],
    ['60', 5184000],
  ])('a day at %s has %d frames, and then labels begin again', (name, total) => {
    const clock = clockNamed(name);
    expect(dayFrames(clock.rate, clock.drop)).toBe(total);
    expect(formatTimecode(total, clock.rate, clock)).toBe(formatTimecode(0, clock.rate, clock));
    expect(formatTimecode(-1, clock.rate, clock)).toBe(formatTimecode(total - 1, clock.rate, clock));
  });

  it.each([
    // Derived from the counting of SMPTE ST 12-1:2014.
    ['29.97DF', '00:00:59;29', 1, '00:01:00;02'],
    ['29.97DF', '00:09:59;29', 1, '00:10:00;00'],
    ['59.94DF', '00:00:59;59', 1, '00:01:00;04'],
    // S2.
    ['29.97DF', '01:23:45;06', 60, '01:23:47;06'],
    ['29.97DF', '01:23:45;06', parseTimecode('01:23:13;01', rate(30000, 1001)).frame, '02:46:58;07'],
    ['29.97DF', '23:59:40;00', parseTimecode('00:00:21;00', rate(30000, 1001)).frame, '00:00:01;00'],
    // S3.
    ['29.97DF', '03:36:09;23', 60, '03:36:11;23'],
    ['25', '03:36:09:23', 60, '03:36:12:08'],
    ['23.976', '03:36:09:23', 60, '03:36:12:11'],
    ['59.94DF', '03:36:09;23', 60, '03:36:10;23'],
    ['29.97DF', '13:36:59;29', 1, '13:37:00;02'],
    ['59.94DF', '13:36:59;59', 1, '13:37:00;04'],
    ['29.97DF', '13:39:59;29', 1, '13:40:00;00'],
  ])('%s %s + %d frames = %s', (name, label, more, sum) => {
    const clock = clockNamed(name);
    expect(formatTimecode(parseTimecode(label, clock.rate).frame + more, clock.rate, clock)).toBe(sum);
  });
});

describe('labels to refuse', () => {
  it.each([
    ['00:01:00;00', '29.97DF', 'absent-label', 'frames'], // S5: minutes 1 to 9, frames 0 and 1
    ['00:01:00;01', '29.97DF', 'absent-label', 'frames'], // S5
    ['00:02:00;00', '29.97DF', 'absent-label', 'frames'], // S2
    ['00:11:00;00', '29.97DF', 'absent-label', 'frames'], // rule of SMPTE ST 12-1:2014
    ['23:59:00;01', '29.97DF', 'absent-label', 'frames'], // same
    ['00:02:00;00', '59.94DF', 'absent-label', 'frames'], // S2
    ['00:02:00;02', '59.94DF', 'absent-label', 'frames'], // S2
    ['00:02:00;03', '59.94DF', 'absent-label', 'frames'], // rule of SMPTE ST 12-1:2014
    ['01:00:13;23', '24', 'drop-mark', 'mark'], // S1
    ['00:00:00;10', '23.976', 'drop-mark', 'mark'], // S1, code
    ['00:00:00;10', '30', 'drop-mark', 'mark'], // S2
    ['01:00:13:24', '24', 'range', 'frames'], // S1
    ['00:02:00;35', '29.97DF', 'range', 'frames'], // S2
    ['00:00:00:25', '25', 'range', 'frames'], // S1, code
    ['00:99:00;02', '29.97DF', 'range', 'minutes'], // S2
    ['00:02:99;02', '29.97DF', 'range', 'seconds'], // S2
    ['40:02:00;02', '29.97DF', 'range', 'hours'], // S2
    ['24:00:00:00', '25', 'range', 'hours'], // S5
    ['-01:00:13:13', '24', 'negative', 'label'], // S1
    ['pink elephants', '25', 'shape', 'label'], // S1
    ['', '25', 'shape', 'label'], // S1
    ['00:00:00', '25', 'shape', 'label'], // S1
    ['00:00:00:0', '25', 'shape', 'label'], // ours: half a field
    ['00:00:00:00:00', '25', 'shape', 'label'], // ours
  ])('%s at %s: %s in %s', (label, name, code, field) => {
    expect(refusal(() => parseTimecode(label, clockNamed(name).rate))).toMatchObject({ code, field });
  });

  // S1, S2: the tenth minute keeps all its labels; S2 accepts ;04.
  it.each([
    ['00:10:00;00', '29.97DF'],
    ['00:10:00;01', '29.97DF'],
    ['01:00:00;00', '29.97DF'],
    ['00:02:00;02', '29.97DF'],
    ['00:02:00;04', '59.94DF'],
  ])('but not %s at %s', (label, name) => {
    expect(parseTimecode(label, clockNamed(name).rate).drop).toBe(true);
  });

  it('are refused with what would be right', () => {
    const { rate: ntsc } = clockNamed('29.97DF');
    expect(refusal(() => parseTimecode('00:01:00;00', ntsc)).expected).toContain('00:01:00;02');
    const tooFar = refusal(() => parseTimecode('00:00:00:30', ntsc));
    expect(tooFar.message).toBe('The frames are 30. They go from 00 to 29 at 29.97.');
    expect(refusal(() => parseTimecode('01:00:13;23', rate(24))).message).toContain('29.97 and 59.94');
  });

  it('follow the clock where it is known', () => {
    const { rate: ntsc } = clockNamed('29.97DF');
    expect(parseTimecode('01:00:00:00', ntsc, { drop: true })).toEqual({ frame: 107892, drop: true });
    expect(refusal(() => parseTimecode('00:01:00:00', ntsc, { drop: true })).code).toBe('absent-label');
    expect(refusal(() => parseTimecode('01:00:00;00', ntsc, { drop: false })).code).toBe('drop-mark');
  });

  it('are not written either', () => {
    expect(refusal(() => formatTimecode(0, rate(25), { drop: true })).code).toBe('drop-mark');
    expect(() => formatTimecode(0.5, rate(25))).toThrow(RangeError);
  });
});

it('counts with drop at 29.97 and 59.94 only', () => {
  expect(RATES.filter(canDrop).map(rateText)).toEqual(['29.97', '59.94']);
});

it('writes and reads three digits of frames above 100 a second', () => {
  expect(formatTimecode(119, rate(120))).toBe('00:00:00:119');
  expect(parseTimecode('00:00:01:000', rate(120)).frame).toBe(120);
});

describe.each(['29.97DF', '59.94DF'])('every frame of a day at %s', (name) => {
  it('has a label of its own, later than the one before, that leads back to it', { timeout: 60_000 }, () => {
    const clock = clockNamed(name);
    const total = dayFrames(clock.rate, true);
    const dropped = nominal(clock.rate) / 15;
    let before = '';
    let wrong = 0;
    for (let n = 0; n < total; n++) {
      const label = formatTimecode(n, clock.rate, clock);
      const skipped = label.slice(6, 8) === '00' && label[4] !== '0' && Number(label.slice(9)) < dropped;
      if (label <= before || skipped || parseTimecode(label, clock.rate).frame !== n) wrong++;
      before = label;
    }
    expect(wrong).toBe(0);
    expect(before).toBe(`23:59:59;${nominal(clock.rate) - 1}`);
  });
});

describe('another implementation, npm smpte-timecode', () => {
  // The rates it knows; a fixed sequence (Park and Miller, "Random number generators", CACM 31, 1988) picks frames.
  const KNOWN = ['23.976', '24', '25', '29.97ND', '29.97DF', '30', '48', '50', '59.94ND', '59.94DF', '60'];
  it.each(KNOWN)('agrees at %s', (name) => {
    const { rate: r, drop } = clockNamed(name);
    let seed = 20261;
    for (let i = 0; i < 2000; i++) {
      seed = (seed * 48271) % 2147483647;
      const n = seed % dayFrames(r, drop);
      const theirs = Timecode(n, [r.num, r.den], drop);
      expect(formatTimecode(n, r, { drop })).toBe(theirs.toString());
      const readBack = Timecode(theirs.toString(), [r.num, r.den], drop);
      expect(parseTimecode(theirs.toString(), r).frame).toBe(readBack.frameCount);
    }
  });
});

describe('the timecode of a clip', () => {
  const ten = { rate: rate(25), startFrame: 900_000, drop: false }; // 10:00:00:00 at 25: S2

  it('counts from its start timecode', () => {
    expect(timecodeOf(0, ten)).toBe('10:00:00:00');
    expect(timecodeOf(60_388, ten)).toBe('10:40:15:13'); // S2: frame 960388
    expect(frameOfTimecode('10:40:15:13', ten, 100_000)).toBe(60_388);
  });

  it('runs across midnight', () => {
    const late = { rate: rate(30000, 1001), startFrame: 2_589_407, drop: true };
    expect([0, 1].map((n) => timecodeOf(n, late))).toEqual(['23:59:59;29', '00:00:00;00']);
    expect(frameOfTimecode('00:00:00;00', late, 2)).toBe(1);
  });

  it('ends with its last frame', () => {
    expect(frameOfTimecode('10:00:00:09', ten, 10)).toBe(9);
    for (const label of ['10:00:00:10', '09:59:59:24']) {
      const error = refusal(() => frameOfTimecode(label, ten, 10));
      expect(error).toMatchObject({ code: 'outside-clip', field: 'label' });
      expect(error.expected).toBe('It runs from 10:00:00:00 to 10:00:00:09.');
    }
    expect(refusal(() => frameOfTimecode('10:00:00:00', ten, 0)).code).toBe('outside-clip');
  });
});
