// Synthesized music whose beats are known because they were put there (tests/fixtures/music/synth.ts), scored as in the public
// MIREX evaluation (tests/fixtures/music/score.ts). Bars of this test: those that the project sets itself for these kinds.
import { describe, expect, it } from 'vitest';
import { analyse, LEAST_PULSE } from '../../server/music/analysis/analyse.ts';
import type { Analysis } from '../../server/music/analysis/contract.ts';
import { fMeasure, scoreBeats } from '../fixtures/music/score.ts';
import { PULSELESS_IDS, SYNTH_RATE, synthesized } from '../fixtures/music/synth.ts';

/** What does not change is as good as whole after so many seconds. */
const ENOUGH = 40;
const CHANGING = ['ramp-up-80-140', 'ramp-down-150-100', 'step-100-132', 'break-110', 'layers-120'];

/** Each piece is analysed once. */
const done = new Map<string, ReturnType<typeof analyseOnce>>();
const analysed = (id: string) => {
  const found = done.get(id) ?? analyseOnce(id);
  done.set(id, found);
  return found;
};
function analyseOnce(id: string) {
  const { pcm, truth: whole } = synthesized(id);
  const seconds = CHANGING.includes(id) ? whole.seconds : ENOUGH;
  const truth = { ...whole, seconds, beats: whole.beats.filter((beat) => beat < seconds), downbeats: whole.downbeats?.filter((beat) => beat < seconds) ?? null };
  const analysis = analyse([pcm.subarray(0, seconds * SYNTH_RATE)], SYNTH_RATE);
  return { truth, analysis, score: scoreBeats(truth, times(analysis)) };
}
const times = ({ beats }: Analysis): number[] => beats.map(({ atMs }) => atMs / 1000);

describe('beats', () => {
  it.each(['click-60', 'click-90', 'click-120', 'click-180', 'rock-128'])('of steady %s are found, each within 10 ms in the mean, at the right tempo', (id) => {
    const { truth, analysis, score } = analysed(id);
    expect(score.f).toBeGreaterThanOrEqual(0.99);
    const off = times(analysis).slice(1, -1).map((time) => Math.min(...truth.beats.map((beat) => Math.abs(beat - time))));
    expect(off.reduce((sum, value) => sum + value, 0) / off.length).toBeLessThan(0.01);
    expect(analysis.tempo[0]!.bpm / Number(id.split('-')[1])).toBeCloseTo(1, 2);
  });

  it.each([
    ['ramp-up-80-140', 0.9],
    ['ramp-down-150-100', 0.9],
    ['step-100-132', 0.9],
    ['break-110', 0.95],
    ['waltz-138', 0.9],
  ])('of %s reach F %f', (id, least) => {
    expect(analysed(id).score.f).toBeGreaterThanOrEqual(least);
  });

  it.each(['six-eight-70', 'shuffle-96'])('of %s are continuous at one of the metrical levels', (id) => {
    expect(analysed(id).score.amlt).toBeGreaterThanOrEqual(0.9);
  });

  it.each([
    ['ramp-up-80-140', 80, 140],
    ['ramp-down-150-100', 150, 100],
  ])('follow %s in the tempo they are said to have', (id, from, to) => {
    const { tempo } = analysed(id).analysis;
    expect(Math.abs(tempo[0]!.bpm - from)).toBeLessThan(4);
    expect(Math.abs(tempo.at(-1)!.bpm - to)).toBeLessThan(4);
  });

  it('make bars of three in a waltz', () => {
    const { analysis, truth } = analysed('waltz-138');
    const firsts = analysis.beats.filter(({ inBar }) => inBar === 1).map(({ atMs }) => atMs / 1000);
    expect(fMeasure(truth.downbeats!, firsts)).toBeGreaterThanOrEqual(0.9);
  });

  it('turn where layers of the music come in or leave: four of five, and no more than two elsewhere', () => {
    const { truth, analysis } = analysed('layers-120');
    const turns = analysis.turns.map(({ atMs }) => atMs / 1000);
    const near = (time: number, others: readonly number[]) => others.some((other) => Math.abs(other - time) <= 0.5);
    expect(truth.changes!.filter((change) => near(change, turns)).length).toBeGreaterThanOrEqual(4);
    expect(turns.filter((turn) => !near(turn, truth.changes!)).length).toBeLessThanOrEqual(2);
  });

  it.each(PULSELESS_IDS)('are not claimed where there is no pulse: %s', (id) => {
    const { analysis } = analysed(id);
    expect(analysis.pulse).toBeLessThan(LEAST_PULSE);
    expect(analysis).toMatchObject({ beats: [], tempo: [], turns: [] });
    expect(analysis.lengthMs).toBe(40_000);
  });
});
