// Music that nobody wrote: four minutes at 96 beats a minute, note by note out of sines and noise, the same each time.
// What happens when is the scenario's (SONG): a pad with single notes, a drum that comes in, a build, a break, and a quiet end.
import { writeFile } from 'node:fs/promises';
import { setImmediate } from 'node:timers/promises';
import { SONG } from './scenario.ts';

const RATE = 48_000;
const BEATS_A_BAR = 4;
/** Roots of four bars that come round, in hertz: A, F, C, G (equal temperament, A = 440 Hz, ISO 16). */
const ROOTS = [110, 87.307, 130.813, 97.999];
const FIFTH = 2 ** (7 / 12);
const TENTH = 2 ** (16 / 12);

/** Writes the song as a WAV file. @throws the reason of the signal. */
export async function makeSong(file: string, signal: AbortSignal): Promise<void> {
  const beat = 60 / SONG.bpm;
  const bars = SONG.sections.reduce((sum, { bars }) => sum + bars, 0);
  const mix = new Float32Array(Math.round(bars * BEATS_A_BAR * beat * RATE));
  const noise = noiseOf(1);
  let bar = 0;
  for (const section of SONG.sections) {
    for (let n = 0; n < section.bars; n++, bar++) {
      signal.throwIfAborted();
      const at = bar * BEATS_A_BAR * beat;
      const root = ROOTS[bar % ROOTS.length]!;
      // How far a build has come; 1 elsewhere.
      const rise = section.rising ? (n + 1) / section.bars : 1;
      if (section.pad) for (const ratio of [2, 2 * FIFTH, 2 * TENTH]) tone(mix, at, BEATS_A_BAR * beat, root * ratio, section.pad * rise, 0.25);
      for (let b = 0; b < BEATS_A_BAR; b++) {
        const onBeat = at + b * beat;
        if (section.drum) drum(mix, onBeat, section.drum * rise * (b === 0 ? 1 : 0.7));
        if (section.bass) tone(mix, onBeat, beat * 0.8, root, section.bass * rise, 0.01);
        const strokes = section.rising && rise > 0.5 ? 4 : 2;
        if (section.hat) for (let h = 0; h < strokes; h++) hiss(mix, onBeat + (h * beat) / strokes, section.hat * rise * (h === 0 ? 0.5 : 1), noise);
        // Off the beat only where a drum keeps it.
        if (section.pluck) tone(mix, onBeat + (section.drum && b % 2 ? beat / 2 : 0), beat, root * 4 * [1, FIFTH, TENTH / 2, FIFTH][b]!, section.pluck * rise, 0.004);
      }
      // Other work of the server goes on meanwhile.
      await setImmediate();
    }
  }
  await writeFile(file, wav(mix));
}

/** A tone that comes in over `attack` seconds and dies away to its end. */
function tone(mix: Float32Array, at: number, seconds: number, hertz: number, level: number, attack: number): void {
  const from = Math.round(at * RATE);
  const length = Math.min(Math.round(seconds * RATE), mix.length - from);
  const step = (2 * Math.PI * hertz) / RATE;
  for (let n = 0; n < length; n++) {
    const share = n / length;
    mix[from + n]! += level * Math.min(1, n / (attack * RATE)) * (1 - share) * (Math.sin(step * n) + 0.3 * Math.sin(2 * step * n));
  }
}

function drum(mix: Float32Array, at: number, level: number): void {
  const from = Math.round(at * RATE);
  const length = Math.min(Math.round(0.22 * RATE), mix.length - from);
  let phase = 0;
  for (let n = 0; n < length; n++) {
    const t = n / RATE;
    phase += (2 * Math.PI * (48 + 110 * Math.exp(-t * 40))) / RATE;
    mix[from + n]! += level * Math.exp(-t * 16) * Math.sin(phase);
  }
}

function hiss(mix: Float32Array, at: number, level: number, noise: () => number): void {
  const from = Math.round(at * RATE);
  const length = Math.min(Math.round(0.06 * RATE), mix.length - from);
  let before = 0;
  for (let n = 0; n < length; n++) {
    const next = noise();
    mix[from + n]! += level * Math.exp((-n / RATE) * 70) * (next - before);
    before = next;
  }
}

/** Numbers between -1 and 1 that are the same each time: a linear congruential generator (Numerical Recipes, 2nd ed., 7.1, from memory). */
function noiseOf(seed: number): () => number {
  let state = seed;
  return () => (state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0) / 2 ** 31 - 1;
}

/** Mono, 16 bit, a little below full scale. */
function wav(mix: Float32Array): Buffer {
  const peak = mix.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
  const bytes = Buffer.alloc(44 + mix.length * 2);
  bytes.write('RIFF', 0, 'latin1');
  bytes.writeUInt32LE(36 + mix.length * 2, 4);
  bytes.write('WAVEfmt ', 8, 'latin1');
  bytes.writeUInt32LE(16, 16);
  bytes.writeUInt16LE(1, 20);
  bytes.writeUInt16LE(1, 22);
  bytes.writeUInt32LE(RATE, 24);
  bytes.writeUInt32LE(RATE * 2, 28);
  bytes.writeUInt16LE(2, 32);
  bytes.writeUInt16LE(16, 34);
  bytes.write('data', 36, 'latin1');
  bytes.writeUInt32LE(mix.length * 2, 40);
  for (let n = 0; n < mix.length; n++) bytes.writeInt16LE(Math.round((mix[n]! / peak) * 29_000), 44 + n * 2);
  return bytes;
}
