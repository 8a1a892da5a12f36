import { SvelteSet } from 'svelte/reactivity';
import type { ClipsWhole, FilmEvent, Rows } from '#contract/live';

interface Held {
  /** How many places on the page look at it. */
  looking: number;
  /** The event as of which it is here; null while it is not. */
  asOf: number | null;
  /** Events heard since it was last asked for. */
  meanwhile: FilmEvent[];
  /** Which asking it waits for: an answer to one before would lack what was not listened to in between. */
  turn: number;
}

interface Page {
  load(ids: readonly string[]): Promise<ClipsWhole>;
  /** Puts clips in as they are now: whatever is in the mirror of these clips and not among it leaves. */
  put(ids: readonly string[], whole: Pick<ClipsWhole, 'rows' | 'seen'>): void;
  /** Rows that changed since. */
  change(rows: Rows): void;
  drop(ids: readonly string[]): void;
}

/** As many at once as the server gives in one answer. */
const AT_ONCE = 100;
/** Clips nobody looks at any more that stay, so that going back waits for nothing. */
const KEPT = 12;
const RETRY_MS = 2000;

/*
 * The clips that this page has, with all that is on them: those that something on it looks at, of the thousands of a film.
 * States of one: not held -> held and coming (events that concern it wait) -> held and here -> kept (nobody looks) -> not
 * held. It is registered before it is asked for, so every event after the moment of the answer is heard; of those heard
 * meanwhile, and of those the page hears late, only newer ones than the answer are put in.
 */
export class Holding {
  readonly #page: Page;
  readonly #held = new Map<string, Held>();
  readonly #here = new SvelteSet<string>();
  readonly #wanted = new Set<string>();
  #asked = false;
  #turns = 0;
  #timer: ReturnType<typeof setTimeout> | null = null;
  #closed = false;

  constructor(page: Page) {
    this.#page = page;
  }

  /** Begins to look at a clip; the function answered ends it. */
  hold(clipId: string): () => void {
    const known = this.#held.get(clipId);
    if (known) known.looking += 1;
    else this.#begin(clipId, 1);
    let ended = false;
    return () => {
      if (ended) return;
      ended = true;
      this.#leave(clipId);
    };
  }

  /** Whether what the page has of a clip is all there is: one that is here and not in the mirror is not in the film. */
  isHere(clipId: string): boolean {
    return this.#here.has(clipId);
  }

  /** Takes over what a snapshot brought; everything else that is looked at is loaded anew. @returns ids whose rows stay until then */
  adopt(seq: number, here: ReadonlySet<string>): Set<string> {
    const staying = new Set<string>();
    for (const [id, held] of this.#held) {
      held.meanwhile = [];
      held.turn = ++this.#turns;
      if (here.has(id)) held.asOf = seq;
      else if (held.looking === 0) {
        this.#held.delete(id);
        this.#here.delete(id);
      } else {
        held.asOf = null;
        staying.add(id);
        this.#want(id);
      }
    }
    for (const id of here) {
      if (!this.#held.has(id)) this.#held.set(id, { looking: 0, asOf: seq, meanwhile: [], turn: ++this.#turns });
      this.#here.add(id);
    }
    return staying;
  }

  /** The rows of an event that are to be put in now: those of no clip, and those of clips that are here and older. */
  rowsOf(event: FilmEvent): Rows {
    return { ...event.rows, ...rowsOfClips(event, (id) => id === null || this.#concerns(id, event)) };
  }

  close(): void {
    this.#closed = true;
    if (this.#timer !== null) clearTimeout(this.#timer);
  }

  #concerns(clipId: string, event: FilmEvent): boolean {
    const held = this.#held.get(clipId);
    if (!held) return false;
    if (held.asOf !== null) return event.seq > held.asOf;
    if (held.meanwhile.at(-1) !== event) held.meanwhile.push(event);
    return false;
  }

  #begin(clipId: string, looking: number): void {
    this.#held.set(clipId, { looking, asOf: null, meanwhile: [], turn: ++this.#turns });
    this.#want(clipId);
  }

  #leave(clipId: string): void {
    const held = this.#held.get(clipId);
    if (!held) return;
    held.looking -= 1;
    // Behind all others that are kept.
    this.#held.delete(clipId);
    this.#held.set(clipId, held);
    // Who takes it over does so in the same turn.
    queueMicrotask(() => this.#letGo());
  }

  #letGo(): void {
    const kept = [...this.#held].filter(([, { looking }]) => looking === 0);
    const gone = kept.filter(([, { asOf }], n) => asOf === null || n < kept.length - KEPT).map(([id]) => id);
    for (const id of gone) {
      this.#held.delete(id);
      this.#here.delete(id);
    }
    if (gone.length) this.#page.drop(gone);
  }

  #want(clipId: string): void {
    this.#wanted.add(clipId);
    if (this.#asked) return;
    this.#asked = true;
    queueMicrotask(() => void this.#ask());
  }

  async #ask(): Promise<void> {
    this.#asked = false;
    const all = [...this.#wanted].filter((id) => this.#isComing(id));
    this.#wanted.clear();
    for (let n = 0; n < all.length; n += AT_ONCE) await this.#load(all.slice(n, n + AT_ONCE));
  }

  async #load(ids: readonly string[]): Promise<void> {
    const turns = new Map(ids.map((id) => [id, this.#held.get(id)?.turn]));
    const waits = (id: string): boolean => this.#isComing(id) && this.#held.get(id)?.turn === turns.get(id);
    let whole: ClipsWhole;
    try {
      whole = await this.#page.load(ids);
    } catch {
      for (const id of ids) if (waits(id)) this.#wanted.add(id);
      if (!this.#closed) this.#timer ??= setTimeout(() => ((this.#timer = null), void this.#ask()), RETRY_MS);
      return;
    }
    const here = ids.filter(waits);
    if (this.#closed || here.length === 0) return;
    const wanted = new Set(here);
    const { rows, seen } = whole;
    const of = (id: string | null): boolean => id !== null && wanted.has(id);
    this.#page.put(here, {
      rows: { clips: rows.clips.filter(({ id }) => of(id)), selects: rows.selects.filter(({ clipId }) => of(clipId)), notes: rows.notes.filter(({ clipId }) => of(clipId)) },
      seen: seen.filter(({ id }) => of(id)),
    });
    for (const id of here) {
      const held = this.#held.get(id)!;
      held.asOf = whole.seq;
      for (const event of held.meanwhile) if (event.seq > whole.seq) this.#page.change(rowsOfClips(event, (one) => one === id));
      held.meanwhile = [];
      this.#here.add(id);
    }
  }

  #isComing(clipId: string): boolean {
    return this.#held.get(clipId)?.asOf === null;
  }
}

function rowsOfClips({ rows }: FilmEvent, wanted: (clipId: string | null) => boolean): Pick<Rows, 'clips' | 'selects' | 'notes'> {
  return {
    ...(rows.clips && { clips: rows.clips.filter(({ id }) => wanted(id)) }),
    ...(rows.selects && { selects: rows.selects.filter(({ clipId }) => wanted(clipId)) }),
    ...(rows.notes && { notes: rows.notes.filter(({ clipId }) => wanted(clipId)) }),
  };
}
