import type { Seen } from '#contract/footage';
import type { TableName, Tables } from '#contract/live';
import { union } from '#core/range.ts';
import type { AskOptions } from '../api/client.ts';
import { say } from '../ui/say.svelte.ts';
import type { FilmState } from './film-state.svelte.ts';
import { Outbox, type Named } from './outbox.svelte.ts';

/** Tables of which one row is changed by a stroke. */
export type StrokeTable = 'clips' | 'selects' | 'offers' | 'notes';

/** What a stroke makes of a row: the row itself, new or brought back; some of its fields; or nothing of it. */
export type Shows = { [T in StrokeTable]: { readonly table: T; readonly id: string } & ({ readonly row: Tables[T] } | { readonly fields: Partial<Tables[T]> } | { readonly gone: true }) }[StrokeTable];

/** Something a person did with one stroke. It shows at once and is never lost: it goes out when the server can be reached. */
export interface Stroke {
  readonly method: 'POST' | 'PUT' | 'PATCH' | 'DELETE';
  /** Under the film. */
  readonly path: string;
  readonly body?: object;
  /** What it is, for the person, should it be refused: "The select at 10:00:04:12". */
  readonly words: string;
  readonly shows: Shows | null;
}

/** Bodies a browser still sends when the page is closed. */
const KEEPALIVE_CHARACTERS = 20_000;

/** The strokes of one person in one film. */
export class Strokes {
  readonly outbox: Outbox<Stroke, unknown>;
  readonly #film: FilmState;
  /** Rows that show otherwise than the server has them, because of strokes on their way. */
  #touched: readonly Shows[] = [];

  constructor(film: FilmState) {
    this.#film = film;
    this.outbox = new Outbox<Stroke, unknown>(film, {
      own: 'strokes',
      send: ({ method, path, body }, options) => ask(film, method, path, body, options),
      arrived: (stroke, answer) => {
        if (isSeen(stroke)) film.hearOwnSeen(answer as Seen);
        this.show();
      },
      refused: (stroke, problem) => {
        this.show();
        say(`${stroke.words}: ${problem.message}`, { failed: true });
      },
      setAside: (stroke) => {
        this.show();
        say(`${stroke.words} waits above, and the others go on. ${stroke.why}`, { failed: true });
      },
    });
    this.show();
    void this.outbox.send();
  }

  do(stroke: Stroke): void {
    this.outbox.add(stroke);
    this.show();
  }

  /** A stroke that goes on with the one before, as a held key does: where that still waits, both go out as one. */
  goOn(stroke: Stroke): void {
    this.outbox.addOrJoin(stroke, (last) => (last.method === stroke.method && last.path === stroke.path ? { ...stroke, body: { ...last.body, ...stroke.body }, shows: stroke.shows } : null));
    this.show();
  }

  /** Stretches of a clip were watched, in frames, half-open. */
  saw(clipId: string, ranges: readonly [number, number][]): void {
    if (ranges.length > RANGES_AT_MOST) this.saw(clipId, ranges.slice(RANGES_AT_MOST));
    const some = ranges.slice(0, RANGES_AT_MOST);
    const stroke = (all: readonly [number, number][]): Stroke => ({ method: 'POST', path: seenPath(clipId), body: { ranges: all }, words: 'What you watched', shows: null });
    this.outbox.addOrJoin(stroke(some), (last) => {
      const both = last.path === seenPath(clipId) ? united([...(last.body as { ranges: [number, number][] }).ranges, ...some]) : [];
      return both.length > 0 && both.length <= RANGES_AT_MOST ? stroke(both) : null;
    });
  }

  /** Puts what waits over the rows of the film; to be called when something new is on its way or has arrived. */
  show(): void {
    const shows = this.outbox.unseen.flatMap((stroke: Named<Stroke>) => stroke.shows ?? []);
    this.#film.overlay(shows, this.#touched);
    this.#touched = shows;
  }

  close(): void {
    this.outbox.close();
  }
}

/** As many stretches as one report may hold. */
const RANGES_AT_MOST = 1000;
const seenPath = (clipId: string): string => `/clips/${clipId}/seen`;
const isSeen = ({ method, path }: Stroke): boolean => method === 'POST' && path.endsWith('/seen');

/** Stretches as few as they can be. */
export const united = (ranges: readonly (readonly [number, number])[]): [number, number][] =>
  union(ranges.map(([first, outExclusive]) => ({ in: first, outExclusive }))).map((range) => [range.in, range.outExclusive]);

function ask({ api }: FilmState, method: Stroke['method'], path: string, body: object | undefined, options: AskOptions): Promise<unknown> {
  const all = { ...options, keepalive: JSON.stringify(body ?? '').length < KEEPALIVE_CHARACTERS };
  if (method === 'DELETE') return api.del(path, all);
  return method === 'POST' ? api.post(path, body, all) : method === 'PUT' ? api.put(path, body, all) : api.patch(path, body, all);
}

/** A row with what strokes make of it, in their order; null for none. */
export function withStrokes<T extends TableName>(row: Tables[T] | null, strokes: readonly Shows[]): Tables[T] | null {
  let shown: Tables[T] | null = row;
  for (const stroke of strokes) {
    if ('gone' in stroke) shown = null;
    else if ('row' in stroke) shown = stroke.row as Tables[T];
    else if (shown) shown = { ...shown, ...stroke.fields } as Tables[T];
  }
  return shown;
}
