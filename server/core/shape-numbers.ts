import { TEXT_LIMITS, type TextLine } from './outline-text.ts';
import { OPEN } from './wish.ts';

/** A shape by numbers: so many sequences, subsequences in each of them, and shots in each of those. */
export interface Shape {
  readonly sequences: number;
  /** 0: the shots stand in the sequences. */
  readonly subsequences: number;
  readonly shots: number;
}

/** How many slots a shape has. */
export const shotsOf = ({ sequences, subsequences, shots }: Shape): number => sequences * Math.max(1, subsequences) * shots;

/** How many lines a shape has. */
export const linesOf = (shape: Shape): number => shape.sequences * (1 + shape.subsequences) + shotsOf(shape);

/** The lines of a shape, without lengths: the running time divides among them. Throws RangeError above the lines an outline takes at once. */
export function shapeByNumbers(shape: Shape): TextLine[] {
  const { sequences, subsequences, shots } = shape;
  if (linesOf(shape) > TEXT_LIMITS.lines) throw new RangeError(`${linesOf(shape)} lines are too many: an outline takes ${TEXT_LIMITS.lines} at once.`);
  const line = (depth: number, kind: TextLine['kind'], name: string): TextLine => ({ depth, kind, name, role: 'body', wish: OPEN, mustShow: '', comesIn: '', goesOut: '' });
  const count = (n: number) => Array.from({ length: n }, (_, i) => i + 1);
  const slots = (depth: number) => count(shots).map((n) => line(depth, 'slot', `Shot ${n}`));
  return count(sequences).flatMap((n) => [
    line(0, 'part', `Sequence ${n}`),
    ...(subsequences === 0 ? slots(1) : count(subsequences).flatMap((m) => [line(1, 'part', `Subsequence ${n}.${m}`), ...slots(2)])),
  ]);
}
