import type { Mark, Track } from '#contract/music';
import { countKinds, fitMarksOf, frameAt, landingsOf, type FitKind, type Landing } from '#core/fit-marks.ts';
import { fitProblemOf, type FitAnswer, type FitProblem, type LineTie, type Unmet } from '#core/fit-problem.ts';
import { wordsOf } from '../api/problem.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { ItemLine } from '../outline/words.ts';
import { FitSolver } from './solver.ts';

/** A line with nothing inside, before and after. In frames. */
export interface Fitted {
  readonly line: ItemLine;
  readonly before: { readonly start: number; readonly frames: number; readonly landing: Landing | null };
  readonly after: { readonly start: number; readonly frames: number; readonly landing: Landing | null };
}

export interface Outcome {
  readonly lines: readonly Fitted[];
  /** Changes are the beginnings of lines but the first. */
  readonly changes: number;
  readonly landedBefore: number;
  readonly landedAfter: number;
  readonly unmet: readonly Unmet[];
  /** How many lines get another length, and by how many frames at most. */
  readonly moved: number;
  readonly most: number;
}

const USUAL: readonly FitKind[] = ['turn', 'named', 'hit', 'build', 'bar'];

/** A fit being looked at: what changes may land on, what comes of it, as the film stands at this moment. */
export class Fitting {
  readonly film: FilmState;
  kinds: readonly FitKind[] = $state.raw(USUAL);
  near = $state(0);
  readonly track: Track | null = $derived.by(() => this.film.lockedTrack);
  readonly marks: readonly Mark[] = $derived.by(() => (this.track ? this.film.marksIn(this.track.id) : []));
  readonly counts = $derived.by(() => countKinds(this.marks));
  readonly #landings = $derived.by(() => landingsOf(this.marks, { kinds: this.kinds, near: this.near }, this.film.row.targetFrames, this.film.row.rate));
  /** By line, those to marks of this track; the others wait. */
  readonly ties: ReadonlyMap<string, { readonly mark: Mark; readonly frame: number }> = $derived.by(() => {
    const marks = new Map(this.marks.map((mark) => [mark.id, mark]));
    return new Map([...this.film.ties.values()].flatMap(({ itemId, markId }) => (marks.has(markId) ? [[itemId, { mark: marks.get(markId)!, frame: frameAt(marks.get(markId)!.atMs, this.film.row.rate) }]] : [])));
  });
  readonly problem: FitProblem | null = $derived.by(() => {
    const ties: LineTie[] = [...this.ties].map(([itemId, { frame }]) => ({ itemId, frame }));
    return fitProblemOf(this.film.lines, this.film.budget, this.film.row.targetFrames, fitMarksOf(this.#landings), ties);
  });
  #answered: { problem: FitProblem; answer: FitAnswer } | null = $state.raw(null);
  /** Why it could not be worked out; null where nothing failed. */
  fault: string | null = $state(null);
  /** What comes of it; null while that is being worked out. */
  readonly outcome: Outcome | null = $derived.by(() => (this.#answered && this.#answered.problem === this.problem ? this.#outcomeOf(this.problem, this.#answered.answer) : null));
  /** Lines whose length has any room. */
  readonly movable: number = $derived.by(() => this.problem?.slots.filter(({ min, max }) => min < max).length ?? 0);
  readonly #solver = new FitSolver();

  constructor(film: FilmState) {
    this.film = film;
  }

  /** Works it out as things stand; what is being worked out is dropped. To be called whenever `problem` changes. */
  async work(): Promise<void> {
    const { problem } = this;
    this.fault = null;
    if (!problem) return;
    try {
      const answer = await this.#solver.solve(problem);
      if (answer) this.#answered = { problem, answer };
    } catch (error) {
      this.fault = wordsOf(error);
    }
  }

  choose(kind: FitKind, chosen: boolean): void {
    this.kinds = chosen ? [...this.kinds, kind] : this.kinds.filter((one) => one !== kind);
  }

  /** The mark of a landing. */
  markOf({ markId }: Landing): Mark | undefined {
    return this.film.marks.get(markId);
  }

  close(): void {
    this.#solver.close();
  }

  #outcomeOf({ ids, slots }: FitProblem, { lengths, unmet }: FitAnswer): Outcome {
    const lines = new Map(this.film.lines.map((line) => [line.row.id, line]));
    let start = 0;
    const fitted = ids.map((id, i): Fitted => {
      const line = lines.get(id)!;
      const now = this.film.budget.lines.get(id)!;
      const [before, after] = [{ start: now.start, frames: now.frames }, { start, frames: lengths[i]! }];
      start += lengths[i]!;
      return { line, before: { ...before, landing: this.#landingAt(line, before.start) }, after: { ...after, landing: this.#landingAt(line, after.start) } };
    });
    const later = fitted.slice(1);
    return {
      lines: fitted,
      changes: slots.length - 1,
      landedBefore: later.filter(({ before }) => before.landing).length,
      landedAfter: later.filter(({ after }) => after.landing).length,
      unmet,
      moved: fitted.filter(({ before, after }) => before.frames !== after.frames).length,
      most: Math.max(0, ...fitted.map(({ before, after }) => Math.abs(after.frames - before.frames))),
    };
  }

  /** What the beginning of a line lands on: the mark it is tied to, of whatever kind, or one that is chosen. */
  #landingAt(leaf: ItemLine, frame: number): Landing | null {
    for (let line: ItemLine | null = leaf; line; line = line.parent?.children[0] === line ? line.parent : null) {
      const tie = this.ties.get(line.row.id);
      if (tie?.frame === frame) return { markId: tie.mark.id, off: 0, strength: 1 };
    }
    return this.#landings.get(frame) ?? null;
  }
}

