import { Accents } from './accents.ts';
import { barsOf, describeBeats } from './bars.ts';
import { beatsOf } from './beats.ts';
import type { Beats } from './beats.ts';
import { buildsOf } from './builds.ts';
import type { Analysis, Report } from './contract.ts';
import { measure } from './features.ts';
import type { Features } from './features.ts';
import { hitsOf, secondsOf } from './hits.ts';
import type { Hit } from './hits.ts';
import { loudnessOf, powerOf } from './loudness.ts';
import { model } from './model.ts';
import { evidenceOf, pulseOf } from './pulse.ts';
import { silencesOf } from './silences.ts';
import { soundOf } from './sound.ts';
import type { Sound } from './sound.ts';
import { tempoOf } from './tempo.ts';
import { turnsOf } from './turns.ts';

/** Raised whenever the same sound may give other marks. */
export const VERSION = 2;
/** Below this nothing is claimed of beats, bars, tempo and turns. */
export const LEAST_PULSE = 0.5;
/** Bars in which first beats stand out less than this are not told. */
const LEAST_BAR = 0.55;
/** All music is measured as if it were this loud in stereo, so that quiet masters give what loud ones do, and mono what its double does. */
const COMMON_LUFS = -23;
/** Shares of the whole work that are done after each stage. */
const DONE = { loudness: 0.35, features: 0.6, beats: 0.95 };

export interface Options {
  readonly report?: Report;
  readonly signal?: AbortSignal;
}

/**
 * Finds what a film can be cut to in a piece of music. Deterministic: the same sound gives the same marks.
 * @param pcm one array a channel (one or two), full scale ±1, all of one length.
 * @param sampleRate samples a second, 1000 or more.
 * @throws RangeError when the PCM is none; the signal's reason when that stopped it, which it can do between blocks only if it
 *   is raised from another thread or from `report`.
 */
export function analyse(pcm: readonly Float32Array[], sampleRate: number, options: Options = {}): Analysis {
  return analyseSound(soundOf(pcm, sampleRate), options);
}

/** The same for sound that need not be in memory. */
export function analyseSound(sound: Sound, { report, signal }: Options = {}): Analysis {
  const stage = (from: number, to: number) => (fraction: number) => {
    signal?.throwIfAborted();
    report?.(from + (to - from) * fraction);
  };
  stage(0, 0)(0);
  const { loudness, powers, power } = loudnessOf(sound, stage(0, DONE.loudness));
  const gain = gainFor(power, sound.channels);
  const features = measure(sound, gain, stage(DONE.loudness, DONE.features));
  const accents = new Accents(features);
  const hits = hitsOf(features);
  const beats = power === null ? null : beatsOf({ features, accents, hits }, model, stage(DONE.features, DONE.beats));
  const pulse = beats ? pulseOf(evidenceOf(beats.frames, beats.frames.map(secondsOf), beats.perFrame, accents, hits), model.pulse) : 0;
  const lengthMs = Math.round((sound.length / sound.sampleRate) * 1000);
  const analysis: Analysis = {
    version: VERSION,
    lengthMs,
    pulse,
    ...(beats && pulse >= LEAST_PULSE ? metre(sounding(beats, powers, power!), pulse, features, accents, hits) : { tempo: [], beats: [], turns: [] }),
    hits: hits.map(({ at, strength, confidence }) => ({ atMs: ms(at), strength, confidence })),
    builds: buildsOf(powers),
    silences: silencesOf(sound),
    loudness,
  };
  report?.(1);
  return analysis;
}

/** The factor that brings music to the common loudness. @param power from loudnessOf. */
export const gainFor = (power: number | null, channels: number): number => (power === null ? 1 : Math.sqrt(powerOf(COMMON_LUFS) / (power * (2 / channels))));

/** What is so far below the loudness of the whole is before the music, or after it: 40 LU. */
const QUIET = 1e-4;
const STEP_MS = 100;
/** A beat this near to the sound belongs to it: the powers do not say where within a step it begins. */
const EDGE_MS = 100;

/** The beats without those in the silence before or after the music. @param powers of each 100 ms, @param power of the whole. */
function sounding({ frames, confidence, perFrame }: Beats, powers: Float64Array, power: number): Beats {
  const sounds = (step: number): boolean => step >= QUIET * power;
  const [from, to] = [powers.findIndex(sounds) * STEP_MS, (powers.findLastIndex(sounds) + 1) * STEP_MS];
  const kept = frames.map((frame) => ms(secondsOf(frame)) >= from - EDGE_MS && ms(secondsOf(frame)) <= to + EDGE_MS);
  return { frames: frames.filter((_, i) => kept[i]), confidence: confidence.filter((_, i) => kept[i]), perFrame };
}

/** What is said of music that has a pulse. */
function metre(found: Beats, pulse: number, features: Features, accents: Accents, hits: readonly Hit[]): Pick<Analysis, 'tempo' | 'beats' | 'turns'> {
  const { frames } = found;
  const times = snapped(frames, hits);
  const bars = barsOf(describeBeats(frames, accents, features), model.bars);
  const told = (i: number): boolean => bars.confidence[i]! >= LEAST_BAR;
  const strongest = Math.max(1e-6, ...frames.map((frame) => accents.strength(frame)));
  const beats = frames.map((frame, i) => ({
    atMs: ms(times[i]!),
    strength: accents.strength(frame) / strongest,
    confidence: pulse * found.confidence[i]!,
    inBar: told(i) ? bars.inBar[i]! : null,
  }));
  const starts = frames.flatMap((_, i) => (bars.inBar[i] === 1 ? [i] : []));
  const turns = turnsOf(features, starts.map((i) => frames[i]!));
  return {
    beats,
    tempo: tempoOf(times).map(({ beat, bpm }) => ({ atMs: beats[beat]!.atMs, bpm, confidence: beats[beat]!.confidence })),
    turns: turns.map(({ bar, confidence }) => ({ atMs: beats[starts[bar]!]!.atMs, confidence: pulse * confidence })),
  };
}

/** A hit so near to a beat is the beat: 25 ms, or half a cell of the decoder's where that is more. */
const SNAP_SECONDS = 0.025;
const SNAP_SHARE = 1 / 24;

/** Times of the beats in seconds: that of the strongest hit close by, which is known more finely, or the frame's own. */
function snapped(frames: readonly number[], hits: readonly Hit[]): number[] {
  let from = 0;
  return frames.map((frame, beat) => {
    const time = secondsOf(frame);
    const length = secondsOf(frames[beat + 1] ?? frame) - time;
    const reach = Math.max(SNAP_SECONDS, SNAP_SHARE * length);
    while (from < hits.length && hits[from]!.at < time - reach) from++;
    let nearest: Hit | null = null;
    for (let i = from; i < hits.length && hits[i]!.at <= time + reach; i++) if (!nearest || hits[i]!.strength > nearest.strength) nearest = hits[i]!;
    return nearest?.at ?? time;
  });
}

const ms = (seconds: number): number => Math.max(0, Math.round(seconds * 1000));
