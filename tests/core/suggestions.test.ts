import { describe, expect, it } from 'vitest';
import { faultsOf } from '#core/faults.ts';
import { rate } from '#core/rate.ts';
import { suggestionsOf } from '#core/suggestions.ts';
import { framesPerStep, UNKNOWN, type PictureTraces, type SoundTraces, type Traces } from '#core/traces.ts';

const RATE = rate(24);
const STEP = framesPerStep(24);

type Change = Partial<Record<keyof PictureTraces | keyof SoundTraces, number>>;

/** Traces of a clip with nothing wrong, but for stretches of steps: half-open, each with what is measured there. */
function traced(steps: number, changes: readonly [from: number, to: number, change: Change][] = [], more: Partial<Traces> = {}): Traces {
  const row = (key: keyof Change, usual: number) => Array.from({ length: steps }, (_, n) => changes.findLast(([from, to, change]) => from <= n && n < to && change[key] !== undefined)?.[2][key] ?? usual);
  return {
    version: 1,
    framesPerStep: STEP,
    frames: steps * STEP,
    picture: { edge: row('edge', 14), shake: row('shake', 5), blown: row('blown', 1), brightest: row('brightest', 90), black: row('black', 2), repeated: row('repeated', 0), flash: row('flash', 0) },
    cuts: [],
    sound: { loudness: row('loudness', -23), peak: row('peak', -12), clipped: row('clipped', 0), rumble: row('rumble', 10) },
    ...more,
  };
}

describe('faults', () => {
  it('are as long as the trace is beyond its limit', () => {
    for (const [kind, change] of [
      ['soft', { edge: 30 }], ['shaky', { shake: 40 }], ['blown', { blown: 15 }], ['dark', { brightest: 29 }], ['black', { black: 98, brightest: 5 }], ['frozen', { repeated: 100 }],
      ['flashing', { flash: 7 }], ['clipped', { clipped: 2 }], ['silent', { peak: -60, rumble: 100 }], ['rumble', { rumble: 65 }],
    ] as const)
      expect(faultsOf(traced(60, [[12, 24, change]]), RATE)).toEqual([{ kind, in: 12 * STEP, outExclusive: 24 * STEP }]);
  });
  it('are let pass when short, and not interrupted by a moment', () => {
    expect(faultsOf(traced(60, [[10, 12, { edge: 99 }], [30, 35, { repeated: 100 }]]), RATE)).toEqual([]);
    expect(faultsOf(traced(60, [[10, 20, { shake: 99 }], [14, 16, { shake: 3 }]]), RATE)).toEqual([{ kind: 'shaky', in: 10 * STEP, outExclusive: 20 * STEP }]);
  });
  it('end with the clip, whose last step may be short', () => {
    expect(faultsOf(traced(30, [[20, 30, { edge: 99 }]], { frames: 30 * STEP - 3 }), RATE)).toEqual([{ kind: 'soft', in: 20 * STEP, outExclusive: 30 * STEP - 3 }]);
  });
  it('are not told where nothing can be: no edges, no sound', () => {
    expect(faultsOf(traced(30, [[0, 30, { edge: UNKNOWN, peak: -99 }]], { sound: null }), RATE)).toEqual([]);
  });
});

describe('suggested stretches', () => {
  it('are all of a clip that nothing is found against', () => {
    expect(suggestionsOf(traced(30), RATE)).toEqual([{ in: 0, outExclusive: 30 * STEP, before: 'end', after: 'end', sound: [] }]);
  });
  it('lie between the faults of the picture, say which, and are two seconds long at least', () => {
    const traces = traced(90, [[0, 6, { shake: 99 }], [30, 36, { edge: 99 }], [44, 50, { blown: 50 }], [60, 66, { clipped: 9 }]]);
    expect(suggestionsOf(traces, RATE)).toEqual([
      { in: 6 * STEP, outExclusive: 30 * STEP, before: 'shaky', after: 'soft', sound: [] },
      { in: 50 * STEP, outExclusive: 90 * STEP, before: 'blown', after: 'end', sound: ['clipped'] },
    ]);
  });
  it('do not reach over a cut', () => {
    expect(suggestionsOf(traced(60, [], { cuts: [100] }), RATE)).toEqual([
      { in: 0, outExclusive: 100, before: 'end', after: 'cut', sound: [] },
      { in: 100, outExclusive: 60 * STEP, before: 'cut', after: 'end', sound: [] },
    ]);
  });
  it('name a fault rather than the cut it begins with', () => {
    const traces = traced(60, [[26, 30, { black: 100 }]], { cuts: [26 * STEP - 2, 30 * STEP - 1] });
    expect(suggestionsOf(traces, RATE).map(({ before, after }) => [before, after])).toEqual([['end', 'black'], ['black', 'end']]);
  });
  it('are none where nothing is left', () => expect(suggestionsOf(traced(30, [[0, 30, { black: 100 }]]), RATE)).toEqual([]));
});
