// How the clips of a film lie on the table: a row a shoot day, a column a camera, each cell in the order of capture.
import type { Clip } from '#contract/footage';
import type { Progress } from '#contract/live';

export interface Day {
  /** YYYY-MM-DD; null for clips whose day nobody knows yet. */
  day: string | null;
  /** One cell a camera, in the order of `cameras`. */
  cells: Clip[][];
}

export interface Table {
  cameras: string[];
  days: Day[];
}

/** Lays clips out. Cameras and days are sorted; clips without a camera or a day come last, where they are missed. */
export function layOut(clips: Iterable<Clip>): Table {
  const byDay = new Map<string | null, Map<string, Clip[]>>();
  const names = new Set<string>();
  for (const clip of clips) {
    names.add(clip.camera);
    const cells = byDay.get(clip.shootDay) ?? new Map<string, Clip[]>();
    const cell = cells.get(clip.camera) ?? [];
    cell.push(clip);
    byDay.set(clip.shootDay, cells.set(clip.camera, cell));
  }
  const cameras = [...names].sort(emptyLast);
  const days = [...byDay.keys()].sort((a, b) => emptyLast(a ?? '', b ?? ''));
  return {
    cameras,
    days: days.map((day) => ({ day, cells: cameras.map((camera) => (byDay.get(day)?.get(camera) ?? []).sort(byCapture)) })),
  };
}

const emptyLast = (a: string, b: string): number => Number(a === '') - Number(b === '') || a.localeCompare(b, undefined, { numeric: true });

/** By the camera's clock; clips that do not know it follow, by their start timecode and then by name. */
function byCapture(a: Clip, b: Clip): number {
  if (a.capturedAt !== null && b.capturedAt !== null && a.capturedAt !== b.capturedAt) return a.capturedAt < b.capturedAt ? -1 : 1;
  return Number(a.capturedAt === null) - Number(b.capturedAt === null) || startSeconds(a) - startSeconds(b) || a.name.localeCompare(b.name, undefined, { numeric: true }) || (a.id < b.id ? -1 : 1);
}

/** Where a clip begins on its own timecode clock; 0 for clips that have none. */
const startSeconds = ({ capturedAt, startFrame, rate }: Clip): number => (capturedAt === null && rate ? Math.floor((startFrame * rate.den) / rate.num) : 0);

/** Where a key leads from a clip. */
export type Way = 'left' | 'right' | 'up' | 'down' | 'first' | 'last';

interface Box {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

/** The box that an arrow up or down leads to: the nearest line that way, and in it the nearest to the left or right. */
export function nextBox(boxes: readonly Box[], from: number, direction: 'up' | 'down'): number {
  const start = boxes[from];
  if (!start) return -1;
  const middle = (box: Box) => (box.left + box.right) / 2;
  const gap = (box: Box) => (direction === 'down' ? box.top - start.bottom : start.top - box.bottom);
  // A row's clips need not be equally tall, so whatever begins after the middle counts as beyond.
  const slack = (start.bottom - start.top) / 2;
  let best = -1;
  let cost = Infinity;
  boxes.forEach((box, n) => {
    if (n === from || gap(box) < -slack) return;
    const distance = gap(box) * 4 + Math.abs(middle(box) - middle(start));
    if (distance < cost) [best, cost] = [n, distance];
  });
  return best;
}

/** A size in words: 1.4 GB. */
export function sizeText(bytes: number): string {
  const units = ['bytes', 'kB', 'MB', 'GB', 'TB'];
  let step = 0;
  let value = bytes;
  while (value >= 1000 && step < units.length - 1) [value, step] = [value / 1000, step + 1];
  return `${step === 0 ? value : value.toFixed(value < 10 ? 1 : 0)} ${units[step]}`;
}

/** A wait in words: "40 s left", "3 min left". */
export function timeLeft(seconds: number | null): string {
  if (seconds === null) return '';
  return seconds < 90 ? `${Math.max(1, Math.round(seconds))} s left` : `${Math.round(seconds / 60)} min left`;
}

const STAGE_WORDS: Record<Progress['stage'], string> = { probe: 'measuring', proxy: 'proxy', check: 'checking', store: 'putting away' };

/** How a clip's proxy stands, in words; empty when it is ready. */
export function stateWords(clip: Pick<Clip, 'state' | 'failure'>, progress: Progress | undefined): string {
  if (clip.state === 'ready') return '';
  if (clip.state === 'failed') return 'failed';
  if (clip.state === 'received' || !progress) return clip.state === 'received' ? 'waiting for a worker' : 'being made';
  return [STAGE_WORDS[progress.stage], `${Math.floor(progress.fraction * 100)} %`, timeLeft(progress.etaSeconds)].filter(Boolean).join(', ');
}
