import { Fft } from '#core/fft.ts';
import { monoBlocks } from './sound.ts';
import type { Sound } from './sound.ts';

/** Frames a second of everything that is measured along the music. */
export const FRAME_RATE = 100;
/** Bands the rise of the sound is summed in: their lower edges, and the end of the last, in Hz. */
const FLUX_EDGES = [27.5, 200, 800, 3200, 11_000] as const;
export const FLUX_BANDS = FLUX_EDGES.length - 1;
/** Bands of half that width, for the colour of the sound. */
const COLOUR_EDGES = [27.5, 80, 200, 400, 800, 1600, 3200, 6000, 11_000] as const;
export const COLOUR_BANDS = COLOUR_EDGES.length - 1;
export const PITCH_CLASSES = 12;

/** What is measured along the music. Row-major: frame n starts at n × width; frame n is at n / FRAME_RATE seconds. */
export interface Features {
  readonly frames: number;
  /** FLUX_BANDS a frame: how much the sound rises just here (SuperFlux), as mean log magnitude of the band. */
  readonly flux: Float32Array;
  /** PITCH_CLASSES a frame: magnitude by pitch class between 130 and 4000 Hz, C first. */
  readonly chroma: Float32Array;
  /** COLOUR_BANDS a frame: power of the band, in dB of full scale. */
  readonly colour: Float32Array;
}

/** About 46 ms: short enough for the rise, long enough to tell a kick from a bass. */
const WINDOW_SECONDS = 0.0465;
const BANDS_PER_OCTAVE = 24;
/** A rise is against the loudest of the band and its neighbours two frames ago, so vibrato is none (Böck and Widmer 2013). */
const LAG = 2;
const COMPRESSION = 100;
/** The floor of `colour`. */
const QUIET_POWER = 1e-10;

/**
 * Measures the sound along its length. Deterministic.
 * @param gain a factor that brings the music to a common loudness, so that quiet masters give what loud ones give.
 * @param step called for each block with the share done, 0 to 1; throws to stop.
 */
export function measure(sound: Sound, gain: number, step: (fraction: number) => void): Features {
  const size = 2 ** Math.floor(Math.log2(sound.sampleRate * WINDOW_SECONDS));
  const frames = Math.max(0, Math.ceil((sound.length / sound.sampleRate) * FRAME_RATE));
  const out = { frames, flux: new Float32Array(frames * FLUX_BANDS), chroma: new Float32Array(frames * PITCH_CLASSES), colour: new Float32Array(frames * COLOUR_BANDS) };
  const spectrum = spectra(sound, size, gain, frames, step);
  const bands = logBands(size, sound.sampleRate);
  const history = Array.from({ length: LAG + 1 }, () => new Float64Array(bands.length));
  const fluxOf = bandsIn(bands, FLUX_EDGES);
  const pitchOf = pitchClasses(size, sound.sampleRate);
  const colourOf = binsIn(size, sound.sampleRate, COLOUR_EDGES);
  let frame = 0;
  for (const magnitudes of spectrum) {
    const now = history[frame % history.length]!;
    for (let band = 0; band < bands.length; band++) {
      const { from, to } = bands[band]!;
      let sum = 0;
      for (let bin = from; bin < to; bin++) sum += magnitudes[bin]!;
      now[band] = Math.log10(1 + (COMPRESSION * sum) / (to - from));
    }
    if (frame >= LAG) rises(now, history[(frame - LAG) % history.length]!, fluxOf, out.flux, frame * FLUX_BANDS);
    for (let bin = 0; bin < magnitudes.length; bin++) {
      const magnitude = magnitudes[bin]!;
      const pitch = pitchOf[bin]!;
      if (pitch >= 0) out.chroma[frame * PITCH_CLASSES + pitch]! += magnitude;
      const colour = colourOf[bin]!;
      if (colour >= 0) out.colour[frame * COLOUR_BANDS + colour]! += magnitude * magnitude;
    }
    frame++;
  }
  for (let i = 0; i < out.colour.length; i++) out.colour[i] = 10 * Math.log10(QUIET_POWER + out.colour[i]!);
  return out;
}

function rises(now: Float64Array, before: Float64Array, fluxOf: readonly { from: number; to: number }[], flux: Float32Array, at: number): void {
  const last = now.length - 1;
  fluxOf.forEach(({ from, to }, index) => {
    let sum = 0;
    for (let band = from; band < to; band++) {
      const loudest = Math.max(before[band]!, before[band > 0 ? band - 1 : 0]!, before[band < last ? band + 1 : last]!);
      if (now[band]! > loudest) sum += now[band]! - loudest;
    }
    flux[at + index] = to > from ? sum / (to - from) : 0;
  });
}

/** Magnitudes of each frame's window up to the highest band, a full-scale sine being 1; the window is centred on the frame, silence before and after the sound. */
function* spectra(sound: Sound, size: number, gain: number, frames: number, step: (fraction: number) => void): Iterable<Float64Array> {
  const fft = new Fft(size);
  const window = Float64Array.from({ length: size }, (_, i) => (0.5 - 0.5 * Math.cos((2 * Math.PI * (i + 0.5)) / size)) * ((4 * gain) / size));
  const needed = Math.min(size / 2, Math.ceil((FLUX_EDGES[FLUX_BANDS]! * size) / sound.sampleRate));
  const [re, im, first, second] = [new Float64Array(size), new Float64Array(size), new Float64Array(needed), new Float64Array(needed)];
  const startOf = (frame: number): number => Math.round((frame * sound.sampleRate) / FRAME_RATE) - size / 2;
  let held: Float32Array = new Float32Array(size / 2);
  let heldFrom = -size / 2;
  let frame = 0;
  const take = function* (): Iterable<Float64Array> {
    while (frame < frames && startOf(frame + 1) + size <= heldFrom + held.length) {
      const a = startOf(frame) - heldFrom;
      const b = startOf(frame + 1) - heldFrom;
      for (let i = 0; i < size; i++) {
        re[i] = held[a + i]! * window[i]!;
        im[i] = held[b + i]! * window[i]!;
      }
      fft.magnitudesOfTwo(re, im, first, second);
      yield first;
      if (frame + 1 < frames) yield second;
      frame += 2;
    }
  };
  const append = (samples: Float32Array): void => {
    const drop = Math.min(held.length, Math.max(0, startOf(frame) - heldFrom));
    const next = new Float32Array(held.length - drop + samples.length);
    next.set(held.subarray(drop));
    next.set(samples, held.length - drop);
    held = next;
    heldFrom += drop;
  };
  for (const block of monoBlocks(sound)) {
    append(block);
    yield* take();
    step(frames > 0 ? Math.min(1, frame / frames) : 1);
  }
  append(new Float32Array(startOf(frames + 2) + size - sound.length));
  yield* take();
}

interface LogBand {
  from: number;
  to: number;
  hz: number;
}

/** Bands of a 24th of an octave, at least a bin wide, none twice. */
function logBands(size: number, sampleRate: number): LogBand[] {
  const bands: LogBand[] = [];
  const binHz = sampleRate / size;
  const end = Math.min(size / 2, Math.floor(FLUX_EDGES[FLUX_BANDS]! / binHz));
  for (let from = Math.max(1, Math.round(FLUX_EDGES[0] / binHz)); from < end; ) {
    const to = Math.min(end, Math.max(from + 1, Math.round(from * 2 ** (1 / BANDS_PER_OCTAVE))));
    bands.push({ from, to, hz: Math.sqrt(from * to) * binHz });
    from = to;
  }
  return bands;
}

const bandsIn = (bands: readonly LogBand[], edges: readonly number[]): { from: number; to: number }[] =>
  edges.slice(0, -1).map((low, index) => {
    const inside = bands.map(({ hz }, band) => ({ hz, band })).filter(({ hz }) => hz >= (index === 0 ? 0 : low) && hz < edges[index + 1]!);
    return { from: inside[0]?.band ?? 0, to: (inside.at(-1)?.band ?? -1) + 1 };
  });

/** For each bin which of the bands between the edges it is in, −1 for none. */
function binsIn(size: number, sampleRate: number, edges: readonly number[]): Int8Array {
  return Int8Array.from({ length: size / 2 }, (_, bin) => {
    const hz = (bin * sampleRate) / size;
    return hz < edges[0]! || hz >= edges.at(-1)! ? -1 : edges.findIndex((low, index) => hz >= low && hz < edges[index + 1]!);
  });
}

function pitchClasses(size: number, sampleRate: number): Int8Array {
  const C0_HZ = 440 * 2 ** (-57 / 12);
  return Int8Array.from({ length: size / 2 }, (_, bin) => {
    const hz = (bin * sampleRate) / size;
    return hz < 130 || hz > 4000 ? -1 : ((Math.round(12 * Math.log2(hz / C0_HZ)) % 12) + 12) % 12;
  });
}
