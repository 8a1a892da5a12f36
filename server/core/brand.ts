declare const unit: unique symbol;

/** A number that carries its unit in its type, so that a millisecond is never taken for a frame. */
export type Brand<Unit extends string> = number & { readonly [unit]: Unit };

/**
 * What a function takes for a branded number: the brand itself, or a bare number (rows and JSON have no brands),
 * but never a number branded with another unit.
 */
export type Loose<Branded extends Brand<string>> = number & { readonly [unit]?: Branded[typeof unit] };

/** A count of frames, or the position of one, in a rate known from beside it. */
export type Frames = Brand<'frames'>;
/** A count of audio samples, or the position of one, at a sampling rate known from beside it. */
export type Samples = Brand<'samples'>;
/** Seconds of real time, with a fraction. */
export type Seconds = Brand<'seconds'>;
/** Whole milliseconds of real time. */
export type Millis = Brand<'milliseconds'>;

function whole(n: number, name: string): number {
  if (!Number.isSafeInteger(n)) throw new RangeError(`${name} are counted in whole numbers; got ${n}.`);
  // -0 and 0 are one count, and only one of them survives JSON.
  return n === 0 ? 0 : n;
}

/** Brands a count of frames; differences may be negative. Throws RangeError unless `n` is a safe integer. */
export const frames = (n: number): Frames => whole(n, 'Frames') as Frames;

/** Brands a count of samples; differences may be negative. Throws RangeError unless `n` is a safe integer. */
export const samples = (n: number): Samples => whole(n, 'Samples') as Samples;

/** Brands whole milliseconds; differences may be negative. Throws RangeError unless `n` is a safe integer. */
export const millis = (n: number): Millis => whole(n, 'Milliseconds') as Millis;

/** Brands seconds. Throws RangeError unless `n` is finite. */
export function seconds(n: number): Seconds {
  if (!Number.isFinite(n)) throw new RangeError(`Seconds must be a finite number; got ${n}.`);
  return n as Seconds;
}
