import { describe, expect, it } from 'vitest';
import { doubled, halved, shiftedByHalf } from '../../server/core/beats.ts';
import { equalGains, factorOf } from '../../server/core/equal-loudness.ts';
import { momentOfTap, ownOffset, snapped } from '../../server/core/tapping.ts';
import { keptInside, levelFor, msAt, pxOf, showing, wholeView, zoomed } from '../../server/core/wave-view.ts';

const beats = (...times: number[]) => times.map((atMs, n) => ({ id: `b${n}`, atMs, inBar: (n % 4) + 1 }));

describe('beats at hand', () => {
  it('doubled and halved again are the same beats', () => {
    const before = beats(0, 500, 1000, 1501);
    const { add } = doubled(before);
    expect(add.map(({ atMs }) => atMs)).toEqual([250, 750, 1251]);
    const all = [...before, ...add.map((beat, n) => ({ ...beat, id: `new${n}` }))].sort((a, b) => a.atMs - b.atMs);
    const { remove } = halved(all);
    expect(all.filter(({ id }) => !remove.includes(id))).toEqual(before);
  });

  it('halved keep the first beats of bars', () => {
    const off = beats(0, 500, 1000, 1500, 2000).map((beat) => ({ ...beat, inBar: beat.inBar === 2 ? 1 : null }));
    expect(halved(off).remove).toEqual(['b0', 'b2', 'b4']);
    expect(halved(beats(0, 500, 1000, 1500)).remove).toEqual(['b1', 'b3']);
  });

  it('half a beat later twice is one beat later; none lies past the end', () => {
    const once = shiftedByHalf(beats(0, 600, 1200), 2000).add;
    expect(once.map(({ atMs }) => atMs)).toEqual([300, 900, 1500]);
    const twice = shiftedByHalf(once.map((beat, n) => ({ ...beat, id: String(n) })), 2000).add;
    expect(twice.map(({ atMs }) => atMs)).toEqual([600, 1200, 1800]);
    expect(shiftedByHalf(beats(0, 600, 1200), 1500).add.map(({ atMs }) => atMs)).toEqual([300, 900]);
    expect(shiftedByHalf(beats(0), 1500)).toEqual({ remove: [], add: [] });
  });
});

describe('a tap', () => {
  it('means what was heard then, less one’s own lateness, and never a moment before the track', () => {
    expect(momentOfTap(10_000, { outputMs: 120, ownMs: 0 })).toBe(9880);
    // Most people tap 20 to 80 ms before the beat (B. H. Repp, "Sensorimotor synchronization", Psychonomic Bulletin & Review 12 (2005) 969; from memory).
    expect(momentOfTap(10_000, { outputMs: 120, ownMs: -40 })).toBe(9920);
    expect(momentOfTap(50, { outputMs: 120, ownMs: 0 })).toBe(0);
  });

  it('goes to the nearest mark that is near enough', () => {
    expect([snapped(1040, [0, 500, 1000, 1500], 80), snapped(1080, [0, 500, 1000], 79), snapped(5, [], 80), snapped(990, [0, 1000], 80), snapped(2000, [1990], 80)]).toEqual([1000, 1080, 5, 1000, 1990]);
  });

  it('one’s own lateness is the median, which a missed click does not move; scattered taps say nothing', () => {
    const clicks = Array.from({ length: 16 }, (_, n) => n * 600);
    expect(ownOffset(clicks.map((click, n) => click - 35 + (n % 3) * 5), clicks)).toBe(-30);
    expect(ownOffset([...clicks.slice(0, 12).map((click) => click + 20), 3300], clicks)).toBe(20);
    expect(ownOffset(clicks.slice(0, 7), clicks)).toBeNull();
    expect(ownOffset(clicks.map((click, n) => click + ((n * 97) % 500) - 250), clicks)).toBeNull();
  });
});

describe('equal loudness', () => {
  it('brings tracks to one level, raises none and lets none over 0 dBTP', () => {
    const tracks = [
      { integratedLufs: -9, truePeakDbtp: 0.8 },
      { integratedLufs: -23, truePeakDbtp: -6 },
      { integratedLufs: -16, truePeakDbtp: -1 },
      { integratedLufs: null, truePeakDbtp: null },
    ];
    const gains = equalGains(tracks);
    expect(tracks.map((track) => gains.get(track))).toEqual([-14, 0, -7, 0]);
    const over = [{ integratedLufs: -20, truePeakDbtp: 1.5 }];
    expect(equalGains(over).get(over[0]!)).toBe(-1.5);
    for (const track of tracks) if (track.truePeakDbtp !== null) expect(track.truePeakDbtp + gains.get(track)!).toBeLessThanOrEqual(0);
  });

  // 20 dB are a factor of 10 in amplitude (IEC 60027-3).
  it('as a factor', () => expect([factorOf(0), factorOf(-20), factorOf(20)]).toEqual([1, 0.1, 10]));
});

describe('the stretch of a wave on screen', () => {
  const length = 600_000;
  const width = 1200;

  it('zooms about the moment under the pointer, from the whole track to single samples and no further', () => {
    let view = wholeView(length, width);
    expect(view).toEqual({ fromMs: 0, msPerPx: 500 });
    const at = msAt(view, 300);
    for (let n = 0; n < 60; n++) {
      view = zoomed(view, 1.5, 300, length, width);
      expect(pxOf(view, at)).toBeCloseTo(300, 3);
    }
    expect(1 / (view.msPerPx * 48)).toBeCloseTo(24);
    for (let n = 0; n < 60; n++) view = zoomed(view, 1 / 1.5, 300, length, width);
    expect(view).toEqual(wholeView(length, width));
  });

  it('never shows anything outside the track', () => {
    expect(keptInside({ fromMs: -500, msPerPx: 10 }, length, width)).toEqual({ fromMs: 0, msPerPx: 10 });
    expect(keptInside({ fromMs: 599_000, msPerPx: 10 }, length, width)).toEqual({ fromMs: 588_000, msPerPx: 10 });
    expect(showing({ fromMs: 0, msPerPx: 10 }, 100_000, length, width).fromMs).toBe(98_800);
    expect(showing({ fromMs: 0, msPerPx: 10 }, 5000, length, width).fromMs).toBe(0);
  });

  it('takes a level with one to eight points a pixel, whatever the zoom', () => {
    const how = { rate: 48_000, factor: 8, levels: 6 };
    for (let msPerPx = 500; msPerPx > 1 / 48; msPerPx /= 1.07) {
      const points = (msPerPx * 48) / 8 ** levelFor(msPerPx, how);
      expect(points).toBeGreaterThanOrEqual(1 - 1e-6);
      expect(points).toBeLessThan(8 + 1e-6);
    }
    expect([levelFor(1 / 48, how), levelFor(1 / 500, how), levelFor(100_000, how)]).toEqual([0, 0, 5]);
  });
});
