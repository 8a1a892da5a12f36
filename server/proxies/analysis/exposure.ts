/** Grey levels, 0 to 255. What ffmpeg's blackdetect calls a black pixel by default is 0.10 of the range as well. */
const BLACK = 25;
const WHITE = 250;
/** The brightest fiftieth: a lamp in the night counts, a spark does not. */
const BRIGHTEST = 0.02;

export interface Exposure {
  /** Mean grey level, 0 to 255. */
  mean: number;
  /** Shares of the picture, 0 to 1. */
  black: number;
  blown: number;
  /** Grey level that the brightest fiftieth reaches, 0 to 255. */
  brightest: number;
}

const counts = new Uint32Array(256);

/** How the light of a grey picture is spread. */
export function exposureOf(picture: Uint8Array): Exposure {
  counts.fill(0);
  for (let at = 0; at < picture.length; at++) counts[picture[at]!]!++;
  let sum = 0;
  for (let level = 1; level < 256; level++) sum += level * counts[level]!;
  let black = 0;
  for (let level = 0; level <= BLACK; level++) black += counts[level]!;
  let blown = 0;
  for (let level = WHITE; level < 256; level++) blown += counts[level]!;
  let brightest = 255;
  for (let above = counts[255]!; brightest > 0 && above < BRIGHTEST * picture.length; above += counts[brightest]!) brightest--;
  return { mean: sum / picture.length, black: black / picture.length, blown: blown / picture.length, brightest };
}
