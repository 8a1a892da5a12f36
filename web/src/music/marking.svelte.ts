import type { Rows } from '#contract/live';
import type { Mark, MarkEdit, MarkKind, MarksChange, MarksChanged, NewMark, Track } from '#contract/music';
import { doubled, halved, shiftedByHalf, type BeatChange } from '#core/beats.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say, tried } from '../ui/say.svelte.ts';
import { shown } from './changes.ts';
import { KIND_WORDS, markWords } from './words.ts';

export type BeatStep = 'double' | 'halve' | 'shift';
const BEAT_STEPS: Record<BeatStep, { said: string; change: (beats: readonly Mark[], lengthMs: number) => BeatChange }> = {
  double: { said: 'Twice as many beats.', change: doubled },
  halve: { said: 'Half as many beats.', change: halved },
  shift: { said: 'The beats stand half a beat later.', change: shiftedByHalf },
};

/** What a person does to the marks of one track. Each change is one step that undoes; it shows when the server has it. */
export class Marking {
  readonly film: FilmState;
  readonly trackId: string;
  readonly track: Track | null = $derived.by(() => this.film.tracks.get(this.trackId) ?? null);
  readonly marks: readonly Mark[] = $derived.by(() => this.film.marksIn(this.trackId));
  readonly may: boolean = $derived.by(() => this.film.can('music.edit'));
  #inHandId: string | null = $state(null);
  readonly inHand: Mark | null = $derived.by(() => {
    const mark = this.#inHandId === null ? undefined : this.film.marks.get(this.#inHandId);
    return mark?.trackId === this.trackId ? mark : null;
  });
  /** Where a mark that is being dragged stands on this screen. */
  dragged: { id: string; atMs: number } | null = $state.raw(null);
  /** Moves of the mark in hand that came while one was on its way, as one. */
  #moving: Promise<unknown> = Promise.resolve();

  constructor(film: FilmState, trackId: string) {
    this.film = film;
    this.trackId = trackId;
  }

  take(id: string | null): void {
    this.#inHandId = id;
  }

  /** Takes the mark before or after the one in hand, or before or after a moment when there is none. */
  takeBeside(by: 1 | -1, atMs: number): Mark | null {
    const { marks, inHand } = this;
    const at = inHand ? marks.indexOf(inHand) + by : by === 1 ? marks.findIndex((mark) => mark.atMs > atMs) : marks.findLastIndex((mark) => mark.atMs < atMs);
    const next = marks[at] ?? null;
    if (next) this.take(next.id);
    return next;
  }

  /** Adds a mark and takes it in hand. */
  async add(mark: NewMark): Promise<void> {
    const made = await this.#change({ add: [mark] }, `${KIND_WORDS[mark.kind]} added.`);
    if (made?.added[0]) this.take(made.added[0].id);
  }

  /** Adds the marks of a tapping. */
  addTapped(kind: MarkKind, moments: readonly number[]): Promise<unknown> {
    const length = this.track?.lengthMs ?? 0;
    const add = [...new Set(moments)].filter((atMs) => atMs < length).sort((a, b) => a - b).map((atMs) => ({ kind, atMs }));
    if (add.length === 0) return Promise.resolve();
    return this.#change({ add }, `${add.length} tapped in.`);
  }

  /** Moves, stretches, names the mark or says what it is. */
  async edit(mark: Mark, change: MarkEdit): Promise<void> {
    const before = Object.fromEntries((Object.keys(change) as (keyof MarkEdit)[]).map((field) => [field, mark[field]]));
    if (Object.entries(change).every(([field, value]) => before[field] === value)) return;
    const patch = (what: object) => this.film.api.patch(`/marks/${mark.id}`, what);
    const shows = ({ marks }: Rows) => marks?.some(({ id }) => id === mark.id) ?? false;
    await tried(
      () => shown(this.film, shows, () => patch(change)),
      () => say(`${markWords({ ...mark, ...change })}.`, { undo: () => patch(before) }),
    );
  }

  /** Moves the mark in hand by so many milliseconds; one move after the other, so that none is lost. */
  nudge(byMs: number): void {
    this.#moving = this.#moving.then(async () => {
      const { inHand, track } = this;
      if (!inHand || !track || track.lengthMs === null) return;
      const by = Math.max(-inHand.atMs, Math.min(track.lengthMs - 1 - (inHand.untilMs ?? inHand.atMs), byMs));
      await this.edit(inHand, { atMs: inHand.atMs + by, ...(inHand.untilMs === null ? {} : { untilMs: inHand.untilMs + by }) });
    });
  }

  async remove(mark: Mark): Promise<void> {
    const beside = this.marks[this.marks.indexOf(mark) + 1] ?? this.marks[this.marks.indexOf(mark) - 1];
    const ties = this.film.tiesTo(mark.id).length;
    if (await this.#change({ remove: [mark.id] }, `${markWords(mark)} deleted${ties ? ', and the line tied to it untied' : ''}.`)) this.take(beside?.id ?? null);
  }

  /** Sets the beats right where they were counted half, double or off the beat. */
  async beats(step: BeatStep): Promise<void> {
    const beats = this.marks.filter(({ kind }) => kind === 'beat');
    const { said, change } = BEAT_STEPS[step];
    const { remove, add } = change(beats, this.track?.lengthMs ?? 0);
    if (remove.length + add.length === 0) return say('There are too few beats for that.', { failed: true });
    const untied = remove.reduce((count, id) => count + this.film.tiesTo(id).length, 0);
    await this.#change({ remove, add: add.map((beat) => ({ kind: 'beat', ...beat })) }, untied ? `${said} ${untied === 1 ? 'One line was' : `${untied} lines were`} untied by it.` : said);
  }

  async #change(change: MarksChange, said: string): Promise<MarksChanged | null> {
    const send = (what: MarksChange) => this.film.api.post<MarksChanged>(`/tracks/${this.trackId}/marks`, what);
    let made: MarksChanged | null = null;
    const shows = ({ marks }: Rows) => marks?.some(({ trackId }) => trackId === this.trackId) ?? false;
    await tried(
      () => shown(this.film, shows, () => send(change)),
      (done) => {
        made = done;
        say(said, { undo: () => send({ remove: done.added.map(({ id }) => id), restore: done.removed.map(({ id }) => id) }) });
      },
    );
    return made;
  }
}
