// What a wave and its marks look like. Each kind of mark has a shape of its own, and its word stands beside it where there
// is room: beat = a short stroke (a bar's first is longer), hit = a filled wedge pointing at the moment, build = a rising
// wedge over its span, turn = a rule through the whole wave with a folded corner, named = a flag on a full rule.
// Sureness is the stroke: whole for a person's and for what the analysis is sure of, dashed below that, dotted below half.
import { WAVE_FACTOR, WAVE_LEVELS, WAVE_RATE, type Mark } from '#contract/music';
import { levelFor, msAt, pxOf, type WaveView } from '#core/wave-view.ts';
import { WaveData } from './wave-data.svelte.ts';
import { KIND_WORDS } from './words.ts';

export interface Inks {
  ink: string;
  pencil: string;
  hairline: string;
  raised: string;
  blue: string;
}

/** Height above the wave where marks stand. */
export const MARKS_HEIGHT = 56;
const SURE = 0.75;
const LIKELY = 0.5;
const WORD_ROOM_PX = 56;

/** The inks of the room an element stands in. */
export function inksOf(element: Element): Inks {
  const style = getComputedStyle(element);
  const of = (name: string) => style.getPropertyValue(name).trim();
  return { ink: of('--ink'), pencil: of('--pencil'), hairline: of('--hairline'), raised: of('--raised'), blue: of('--blue') };
}

/** Draws the wave between two heights. */
export function drawWave(paper: CanvasRenderingContext2D, wave: WaveData, view: WaveView, { width, top, bottom, ink }: { width: number; top: number; bottom: number; ink: string }): void {
  const level = levelFor(view.msPerPx, { rate: WAVE_RATE, factor: WAVE_FACTOR, levels: WAVE_LEVELS });
  const msPerPoint = WaveData.msOf(level);
  const middle = (top + bottom) / 2;
  const half = (bottom - top) / 2;
  paper.fillStyle = ink;
  paper.strokeStyle = ink;
  if (view.msPerPx < msPerPoint) return drawSamples(paper, wave, view, { width, middle, half });
  for (let px = 0; px < width; px++) {
    const from = Math.floor(msAt(view, px) / msPerPoint);
    const to = Math.max(from + 1, Math.ceil(msAt(view, px + 1) / msPerPoint));
    const extremes = wave.extremes(level, from, Math.min(to, wave.count(level)));
    if (!extremes) continue;
    const above = middle - extremes.high * half;
    paper.fillRect(px, above, 1, Math.max(1, middle - extremes.low * half - above));
  }
}

/** More than a pixel a sample: the samples themselves, joined by a line. */
function drawSamples(paper: CanvasRenderingContext2D, wave: WaveData, view: WaveView, { width, middle, half }: { width: number; middle: number; half: number }): void {
  const msPerSample = WaveData.msOf(0);
  const pxPerSample = msPerSample / view.msPerPx;
  paper.beginPath();
  const from = Math.max(0, Math.floor(view.fromMs / msPerSample) - 1);
  const to = Math.min(wave.count(0), Math.ceil(msAt(view, width) / msPerSample) + 1);
  for (let sample = from; sample < to; sample++) {
    const value = wave.extremes(0, sample, sample + 1);
    if (!value) continue;
    const [x, y] = [pxOf(view, sample * msPerSample), middle - value.high * half];
    paper.lineTo(x, y);
    if (pxPerSample >= 6) paper.fillRect(x - 1.5, y - 1.5, 3, 3);
  }
  paper.lineWidth = 1.5;
  paper.stroke();
}

export interface MarksDrawn {
  width: number;
  height: number;
  inks: Inks;
  inHand: string | null;
  tied: (markId: string) => boolean;
}

/** Draws the marks in view; where they stand closer than three pixels, the beats are left out. */
export function drawMarks(paper: CanvasRenderingContext2D, marks: readonly Mark[], view: WaveView, drawn: MarksDrawn): void {
  const { width, height, inks, inHand, tied } = drawn;
  const seen = marks.filter((mark) => pxOf(view, mark.untilMs ?? mark.atMs) >= -20 && pxOf(view, mark.atMs) <= width + 20);
  const beats = seen.filter(({ kind }) => kind === 'beat');
  const crowded = beats.length * 3 > width;
  let wordsUpTo = -Infinity;
  paper.font = `12px ${getComputedStyle(document.documentElement).getPropertyValue('--face')}`;
  for (const mark of seen) {
    const held = mark.id === inHand;
    if (mark.kind === 'beat' && crowded && !held && !tied(mark.id) && mark.inBar !== 1) continue;
    const x = Math.round(pxOf(view, mark.atMs)) + 0.5;
    paper.strokeStyle = held ? inks.blue : inks.ink;
    paper.fillStyle = paper.strokeStyle;
    paper.lineWidth = held ? 3 : 1.25;
    paper.setLineDash(mark.confidence === null || mark.confidence >= SURE ? [] : mark.confidence >= LIKELY ? [5, 3] : [1.5, 2.5]);
    shapeOf(paper, mark, x, view, height);
    paper.setLineDash([]);
    if (tied(mark.id)) drawTie(paper, x, height, inks);
    const word = mark.name || (mark.kind === 'beat' ? (mark.inBar === 1 ? '1' : '') : KIND_WORDS[mark.kind]);
    if (word && (held || x > wordsUpTo)) {
      const text = word.length > 22 ? `${word.slice(0, 21)}…` : word;
      paper.fillText(text, x + 4, 12);
      wordsUpTo = x + Math.max(WORD_ROOM_PX, paper.measureText(text).width + 10);
    }
  }
}

function shapeOf(paper: CanvasRenderingContext2D, mark: Mark, x: number, view: WaveView, height: number): void {
  paper.beginPath();
  if (mark.kind === 'beat') line(paper, x, mark.inBar === 1 ? 26 : 40, x, MARKS_HEIGHT);
  else if (mark.kind === 'hit') {
    line(paper, x, 30, x, MARKS_HEIGHT);
    paper.stroke();
    paper.beginPath();
    paper.moveTo(x, MARKS_HEIGHT);
    paper.lineTo(x - 5, 42);
    paper.lineTo(x + 5, 42);
    paper.closePath();
    paper.fill();
    return;
  } else if (mark.kind === 'turn') {
    line(paper, x, 16, x, height);
    paper.moveTo(x, 16);
    paper.lineTo(x + 9, 16);
    paper.lineTo(x, 27);
  } else if (mark.kind === 'named') {
    line(paper, x, 16, x, height);
    paper.rect(x, 16, 9, 7);
  }
  if (mark.untilMs !== null) {
    const end = pxOf(view, mark.untilMs);
    paper.moveTo(x, MARKS_HEIGHT - 2);
    paper.lineTo(end, mark.kind === 'build' ? 18 : MARKS_HEIGHT - 2);
    paper.lineTo(end, MARKS_HEIGHT - 2);
    if (mark.kind === 'build') paper.lineTo(x, MARKS_HEIGHT - 2);
  }
  paper.stroke();
}

/** A knot at the foot: something of the outline begins here. */
function drawTie(paper: CanvasRenderingContext2D, x: number, height: number, { ink }: Inks): void {
  paper.strokeStyle = ink;
  paper.lineWidth = 2;
  paper.beginPath();
  paper.arc(x, height - 7, 5, 0, 2 * Math.PI);
  paper.moveTo(x, 16);
  paper.lineTo(x, height - 12);
  paper.stroke();
}

function line(paper: CanvasRenderingContext2D, fromX: number, fromY: number, toX: number, toY: number): void {
  paper.moveTo(fromX, fromY);
  paper.lineTo(toX, toY);
}

/** Sizes a canvas to the pixels of the screen and clears it. */
export function paperOf(canvas: HTMLCanvasElement, width: number, height: number): CanvasRenderingContext2D {
  const ratio = window.devicePixelRatio || 1;
  const [w, h] = [Math.round(width * ratio), Math.round(height * ratio)];
  if (canvas.width !== w) canvas.width = w;
  if (canvas.height !== h) canvas.height = h;
  const paper = canvas.getContext('2d')!;
  paper.setTransform(ratio, 0, 0, ratio, 0, 0);
  paper.clearRect(0, 0, width, height);
  return paper;
}
