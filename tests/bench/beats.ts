// Beats of real pieces against tempo maps that are not ours, beside aubio's and music-tempo's on the same files in the same run.
// Each piece is analysed with what was learned without it: of the pieces in four parts, three learn what finds the beats of the
// fourth, the rule for the metrical level within those three by the same division again. Nothing is chosen by its score here.
// The first run renders the music, which takes half an hour; `render.ts` says where it is kept.
import { execFile } from 'node:child_process';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { analyse } from '../../server/music/analysis/index.ts';
import { beatsOf } from '../../server/music/analysis/beats.ts';
import { secondsOf } from '../../server/music/analysis/hits.ts';
import { decoded, hear, hearAll, PIECES, renderAgain, renderAll } from '../fixtures/music/corpus.ts';
import type { Heard } from '../fixtures/music/corpus.ts';
import { musicFolder, UNHEARD } from '../fixtures/music/render.ts';
import { random } from '../fixtures/music/random.ts';
import { scoreBeats } from '../fixtures/music/score.ts';
import type { Score } from '../fixtures/music/score.ts';
import { PULSELESS_IDS, SYNTH_RATE, synthesized } from '../fixtures/music/synth.ts';
import { learnedWithout } from '../fixtures/music/fold.ts';
import { folds } from '../fixtures/music/train.ts';
import type { Figure } from './run.ts';

const run = promisify(execFile);
/** What it costs is measured on every so-manieth piece, in a process of its own. */
const COST_EVERY = 6;
const REFERENCES = join(import.meta.dirname, '../fixtures/music/references.ts');
const SIDE_BY_SIDE = 3;
const METHODS = ['ours', 'aubio', 'music-tempo'] as const;
type Method = (typeof METHODS)[number];
type Row = { id: string; source: string } & Record<Method, Score>;

export default async function beatsBench(): Promise<Figure[]> {
  const folder = await musicFolder();
  const rendered = await renderAll(folder);
  // They take longer than all else, so they run beside it.
  const references = Promise.all(Array.from({ length: SIDE_BY_SIDE }, (_, part) => othersOn(folder, PIECES.filter((_, i) => i % SIDE_BY_SIDE === part).map(({ id }) => id))));
  const heard = await hearAll(rendered, folder);
  const unheard: Heard[] = [];
  for (const truth of await renderAgain(folder, UNHEARD)) unheard.push(await hear(truth, folder));
  const models = await learnedWithout(heard);
  const judged = new Set([...heard.slice(0, PIECES.length), ...unheard]);
  const ours = new Map<string, Score>();
  for (const [fold, { inside }] of folds([...heard, ...unheard]).entries()) {
    for (const piece of inside.filter((one) => judged.has(one))) ours.set(piece.truth.id, scoreBeats(piece.truth, (beatsOf(piece, models[fold]!, () => {})?.frames ?? []).map(secondsOf)));
  }
  const others: OthersBeats = Object.assign({}, ...(await references));
  const rows = heard.slice(0, PIECES.length).map(({ truth }): Row => {
    const { aubio, 'music-tempo': musicTempo } = others[truth.id]!;
    return { id: truth.id, source: truth.source, ours: ours.get(truth.id)!, aubio: scoreBeats(truth, aubio), 'music-tempo': scoreBeats(truth, musicTempo) };
  });
  printTable(rows);
  const cost: Cost[] = [];
  for (const { id } of rows.filter((_, i) => i % COST_EVERY === 0)) cost.push(await decoded(join(folder, `${id}.wav`), costOf));
  return [...figures(rows), ...figuresElsewhere(unheard.map(({ truth }) => ours.get(truth.id)!)), ...figuresOfKinds(), ...figuresOfCost(cost)];
}

type OthersBeats = Record<string, Record<Exclude<Method, 'ours'>, number[]>>;

async function othersOn(folder: string, ids: readonly string[]): Promise<OthersBeats> {
  const { stdout } = await run(process.execPath, [REFERENCES, folder, ...ids], { maxBuffer: 1 << 24 });
  return JSON.parse(stdout) as OthersBeats;
}

interface Cost {
  cpuSeconds: number;
  peakMegabytes: number;
  minutes: number;
}

async function costOf(path: string): Promise<Cost> {
  const { stdout } = await run(process.execPath, [join(import.meta.dirname, '../fixtures/music/alone.ts'), path]);
  return JSON.parse(stdout) as Cost;
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
const of = (rows: readonly Row[], method: Method, name: keyof Score): number => mean(rows.map((row) => row[method][name]));
const round = (value: number): number => Math.round(value * 1000) / 1000;
const sourcesOf = (rows: readonly Row[]): [source: string, rows: Row[]][] => [...new Set(rows.map(({ source }) => source))].map((source) => [source, rows.filter((row) => row.source === source)]);

function printTable(rows: readonly Row[]): void {
  const line = (name: string, part: readonly Row[]): string =>
    name.padEnd(46) + METHODS.map((method) => `${method} ${(['f', 'fLevel', 'amlt'] as const).map((key) => of(part, method, key).toFixed(2)).join(' ')}`).join('   ');
  console.error('piece: F, F at the best of the levels, AMLt');
  for (const row of rows) console.error(line(row.id, [row]));
  for (const [source, part] of sourcesOf(rows)) console.error(line(`mean of ${source}`, part));
  console.error(line(`mean of ${rows.length}`, rows));
}

const RESAMPLES = 2000;

/** The middle 95 % of a figure of pieces that are drawn again and again from these, with replacement. */
function interval<T>(rows: readonly T[], figure: (drawn: readonly T[]) => number): [low: number, high: number] {
  const chance = random(1);
  const drawn = Array.from({ length: RESAMPLES }, () => figure(rows.map(() => rows[Math.floor(chance() * rows.length)]!))).sort((a, b) => a - b);
  return [drawn[Math.floor(0.025 * RESAMPLES)]!, drawn[Math.floor(0.975 * RESAMPLES)]!];
}

const least = (figure: string, value: number, unit: string, bar: number): Figure => ({ figure, value: round(value), unit, bar, ok: value >= bar });
const most = (figure: string, value: number, unit: string, bar: number): Figure => ({ figure, value: round(value), unit, bar, ok: value <= bar });
const plain = (figure: string, value: number, unit: string): Figure => ({ figure, value: round(value), unit, bar: null, ok: null });
const ends = <T>(figure: string, unit: string, rows: readonly T[], value: (drawn: readonly T[]) => number): Figure[] =>
  interval(rows, value).map((end, i) => plain(`${figure}, ${i === 0 ? 'low' : 'high'} end of the 95 % interval`, end, unit));

function figures(rows: readonly Row[]): Figure[] {
  const over = (other: Method, name: keyof Score) => (drawn: readonly Row[]): number => of(drawn, 'ours', name) / of(drawn, other, name);
  return [
    least(`beats of ${rows.length} pieces: mean F`, of(rows, 'ours', 'f'), 'F', 0.9),
    ...ends('beats: mean F', 'F', rows, (drawn) => of(drawn, 'ours', 'f')),
    plain('beats: mean F at the best of the levels', of(rows, 'ours', 'fLevel'), 'F'),
    least('beats: mean AMLt', of(rows, 'ours', 'amlt'), 'AMLt', 0.95),
    ...ends('beats: mean AMLt', 'AMLt', rows, (drawn) => of(drawn, 'ours', 'amlt')),
    least('beats: mean F / that of aubio', over('aubio', 'f')(rows), 'times', 1.3),
    ...ends('beats: mean F / that of aubio', 'times', rows, over('aubio', 'f')),
    least('beats: mean AMLt / that of aubio', over('aubio', 'amlt')(rows), 'times', 1.4),
    ...ends('beats: mean F / that of music-tempo', 'times', rows, over('music-tempo', 'f')),
    ...sourcesOf(rows).map(([source, part]) => least(`beats: mean F / that of music-tempo, ${part.length} pieces of ${source}`, over('music-tempo', 'f')(part), 'times', 1)),
  ];
}

const figuresElsewhere = (scores: readonly Score[]): Figure[] => [
  plain(`beats of ${scores.length} pieces with sounds never learned from: mean F`, mean(scores.map(({ f }) => f)), 'F'),
  plain('beats with sounds never learned from: mean AMLt', mean(scores.map(({ amlt }) => amlt)), 'AMLt'),
];

const KINDS: readonly [kind: string, ids: readonly string[], score: 'f' | 'amlt', bar: number][] = [
  ['steady clicks', ['click-60', 'click-90', 'click-120', 'click-180'], 'f', 0.99],
  ['ramps and a step of tempo', ['ramp-up-80-140', 'ramp-down-150-100', 'step-100-132'], 'f', 0.9],
  ['a silent break', ['break-110'], 'f', 0.95],
  ['six-eight', ['six-eight-70'], 'amlt', 0.9],
];

/** Of music that the project synthesizes, the worst of each kind, by the model as it is shipped: it has learned from drills at other tempos. */
function figuresOfKinds(): Figure[] {
  const analysed = (id: string) => {
    const { pcm, truth } = synthesized(id);
    const { beats } = analyse([pcm], SYNTH_RATE);
    return { score: scoreBeats(truth, beats.map(({ atMs }) => atMs / 1000)), claimed: beats.length > 0 };
  };
  return [
    ...KINDS.map(([kind, ids, score, bar]) => least(`beats of ${kind}: the worst of ${ids.length}`, Math.min(...ids.map((id) => analysed(id).score[score])), score === 'f' ? 'F' : 'AMLt', bar)),
    most(`beats claimed of ${PULSELESS_IDS.length} pieces without a pulse (${PULSELESS_IDS.join(', ')})`, PULSELESS_IDS.filter((id) => analysed(id).claimed).length, 'pieces', 0),
  ];
}

const figuresOfCost = (cost: readonly Cost[]): Figure[] => [
  most('analysis: CPU a minute of music', cost.reduce((sum, { cpuSeconds }) => sum + cpuSeconds, 0) / cost.reduce((sum, { minutes }) => sum + minutes, 0), 's', 1.5),
  most('analysis: peak memory of the whole process', Math.max(...cost.map(({ peakMegabytes }) => peakMegabytes)), 'MB', 300),
];
