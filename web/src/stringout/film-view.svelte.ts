import type { StringOut, StringOutStretch, StringOutVersion } from '#contract/stringout';
import type { Item } from '#contract/outline';
import { sequenceOf } from '#core/outline.ts';
import { millisToFrames } from '#core/rate.ts';
import { shownFrame, stretchAt } from '#core/string-out.ts';
import { Asked } from '../live/asked.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';

/** A stretch with its line, and the sequence it is in. */
export interface Shot {
  index: number;
  stretch: StringOutStretch;
  /** Null for a line that was taken out of the outline since. */
  line: Item | null;
}
export interface Sequence {
  id: string;
  name: string;
  shots: Shot[];
  in: number;
  outExclusive: number;
}

/** The string-out as this page has it: the version that plays, its shots by sequence, and the marks of the track. */
export class FilmView extends Asked<StringOut> {
  readonly #film: FilmState;

  constructor(film: FilmState) {
    super(film, {
      ask: () => film.api.get('/string-out'),
      concerns: ({ kind, rows }) => kind === 'string-out.levels' || [rows.items, rows.offers, rows.clips, rows.tracks, rows.film].some((of) => of !== undefined),
      againMs: 150,
    });
    this.#film = film;
  }

  readonly version: StringOutVersion | null = $derived(this.answer?.playable ?? null);

  readonly sequences: readonly Sequence[] = $derived.by(() => {
    const lines = new Map(this.#film.lines.map((line) => [line.row.id, line]));
    const list: Sequence[] = [];
    for (const [index, stretch] of (this.version?.stretches ?? []).entries()) {
      const line = lines.get(stretch.lineId);
      const top = line && sequenceOf(line).row;
      const id = top?.id ?? '';
      let last = list.at(-1);
      if (!last || last.id !== id) list.push((last = { id, name: top?.name ?? 'not in the outline any more', shots: [], in: stretch.film.in, outExclusive: stretch.film.in }));
      last.shots.push({ index, stretch, line: line?.row ?? null });
      last.outExclusive = stretch.film.outExclusive;
    }
    return list;
  });

  /** Frames of the film on which marks of the locked track lie, each once, in order. */
  readonly marks: readonly number[] = $derived.by(() => {
    const { lockedTrack, row } = this.#film;
    const total = this.version?.frames ?? 0;
    const frames = lockedTrack ? this.#film.marksIn(lockedTrack.id).map(({ atMs }) => millisToFrames(atMs, row.rate) as number) : [];
    return [...new Set(frames)].filter((frame) => frame < total);
  });

  /** The shot on screen at a frame of the film; null beyond the end. */
  shotAt(frame: number): Shot | null {
    const stretches = this.version?.stretches ?? [];
    const index = stretchAt(stretches, frame);
    const stretch = stretches[index];
    return stretch ? { index, stretch, line: this.#film.items.get(stretch.lineId) ?? null } : null;
  }

  /** The frame of the clip that a frame of the film shows; null where a card plays. */
  clipFrameAt({ stretch }: Shot, frame: number): number | null {
    const clip = stretch.take && this.#film.clips.get(stretch.take.clipId);
    if (!stretch.take || !clip?.rate || stretch.state !== 'take' || !this.version) return null;
    return shownFrame(frame - stretch.film.in, stretch.take.range, clip.rate, this.version.rate);
  }

  /** Where the film goes on after another version has come: at the same place of the same shot, or as near as there is. */
  samePlace(was: { lineId: string; offset: number; frame: number } | null): number {
    const { version } = this;
    if (!was || !version) return 0;
    const shot = version.stretches.find(({ lineId }) => lineId === was.lineId);
    return Math.min(shot ? Math.min(shot.film.in + was.offset, shot.film.outExclusive - 1) : was.frame, version.frames - 1);
  }
}
