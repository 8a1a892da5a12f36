import type { Sound } from './sound.ts';

/** Half-open: the first sample of sound after it is at `toMs`. */
export interface Silence {
  fromMs: number;
  toMs: number;
}

/** A rest that a cut can land on; shorter ones are articulation. */
const SHORTEST_MS = 500;
const FLOOR = 10 ** (-60 / 20);

/** Stretches of half a second or more in which no sample reaches −60 dBFS. */
export function silencesOf(sound: Sound): Silence[] {
  const shortest = (sound.sampleRate * SHORTEST_MS) / 1000;
  const toMs = (sample: number): number => Math.round((sample * 1000) / sound.sampleRate);
  const found: Silence[] = [];
  let from = 0;
  let at = 0;
  const close = (): void => {
    if (at - from >= shortest) found.push({ fromMs: toMs(from), toMs: toMs(at) });
  };
  for (const block of sound.blocks()) {
    for (let i = 0; i < block[0]!.length; i++, at++) {
      if (!block.some((channel) => Math.abs(channel[i]!) >= FLOOR)) continue;
      close();
      from = at + 1;
    }
  }
  close();
  return found;
}
