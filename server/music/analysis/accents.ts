import { FLUX_BANDS, PITCH_CLASSES } from './features.ts';
import type { Features } from './features.ts';
import { localMeans } from './levels.ts';

/** A beat's rise is looked for this many frames before and after its frame. */
const BEFORE = 2;
const AFTER = 3;

/** How strongly a piece is accented at any frame. */
export class Accents {
  /** Row-major like the flux: log of the rise against its surroundings. */
  private readonly rises: Float32Array;
  /** Sums of unit chroma vectors before each frame. */
  private readonly chroma: Float64Array;
  readonly frames: number;

  constructor({ frames, flux, chroma }: Features) {
    this.frames = frames;
    this.rises = new Float32Array(flux.length);
    for (let band = 0; band < FLUX_BANDS; band++) {
      const local = localMeans(flux, band, frames);
      for (let frame = 0; frame < frames; frame++) this.rises[frame * FLUX_BANDS + band] = Math.log1p(flux[frame * FLUX_BANDS + band]! / local[frame]!);
    }
    this.chroma = new Float64Array((frames + 1) * PITCH_CLASSES);
    for (let frame = 0; frame < frames; frame++) {
      const from = frame * PITCH_CLASSES;
      let length = 1e-6;
      for (let i = 0; i < PITCH_CLASSES; i++) length += chroma[from + i]! ** 2;
      for (let i = 0; i < PITCH_CLASSES; i++) this.chroma[from + PITCH_CLASSES + i] = this.chroma[from + i]! + chroma[from + i]! / Math.sqrt(length);
    }
  }

  /** The strongest rise of a band near a frame. */
  rise(frame: number, band: number): number {
    return this.riseWithin(frame - BEFORE, frame + AFTER + 1, band);
  }

  /** The strongest rise of a band from one frame to before another. */
  riseWithin(from: number, to: number, band: number): number {
    let strongest = 0;
    for (let at = Math.max(0, from); at < Math.min(this.frames, to); at++) strongest = Math.max(strongest, this.rises[at * FLUX_BANDS + band]!);
    return strongest;
  }

  /** Mean over the bands of the strongest rises near a frame. */
  strength(frame: number): number {
    let sum = 0;
    for (let band = 0; band < FLUX_BANDS; band++) sum += this.rise(frame, band);
    return sum / FLUX_BANDS;
  }

  /** How far the harmony of `reach` frames before a frame is from that of as many after: 0 for the same, 1 for nothing in common. */
  harmonyChange(frame: number, reach: number): number {
    const [a, b, c] = [frame - reach, frame, frame + reach].map((at) => Math.min(this.frames, Math.max(0, Math.round(at))) * PITCH_CLASSES) as [number, number, number];
    let dot = 0;
    let before = 1e-9;
    let after = 1e-9;
    for (let i = 0; i < PITCH_CLASSES; i++) {
      const x = this.chroma[b + i]! - this.chroma[a + i]!;
      const y = this.chroma[c + i]! - this.chroma[b + i]!;
      dot += x * y;
      before += x * x;
      after += y * y;
    }
    return 1 - dot / Math.sqrt(before * after);
  }
}
