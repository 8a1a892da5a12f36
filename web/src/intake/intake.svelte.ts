import type { FilmState } from '../live/film-state.svelte.ts';
import type { Dropped } from './dropped.ts';
import { Sending } from './sending.svelte.ts';
import { SourceLists } from './source-list.ts';

const AT_ONCE = 3;
const CARD_NAME = 80;
const BUSY = ['waiting', 'hashing', 'sending', 'cut'];

/** The files of one card, as they were given to this page. */
export interface CardFiles {
  camera: string;
  card: string;
  files: Sending[];
}

/*
 * What this page sends into a film. It outlives the room: sending goes on while other rooms are looked at, and the page
 * asks before it closes on files that are not through.
 */
export class Intake {
  readonly #film: FilmState;
  files: Sending[] = $state.raw([]);
  #working = 0;
  readonly #listed: SourceLists;

  readonly busy = $derived(this.files.some(({ state }) => BUSY.includes(state)));
  readonly stopped = $derived(this.files.filter(({ state }) => state === 'paused' || state === 'broken'));
  readonly cards: CardFiles[] = $derived.by(() => {
    const cards = new Map<string, CardFiles>();
    for (const one of this.files) {
      const key = `${one.camera}\n${one.card}`;
      const card = cards.get(key) ?? { camera: one.camera, card: one.card, files: [] };
      card.files.push(one);
      cards.set(key, card);
    }
    return [...cards.values()];
  });

  constructor(film: FilmState) {
    this.#film = film;
    this.#listed = new SourceLists(film);
  }

  /** Takes files in line; one that is in line already is not taken twice. */
  add(dropped: Dropped[], labels: { camera: string; card: string }): void {
    // A card that nobody named goes by the name of its folder.
    const cardOf = (one: Dropped) => labels.card || (one.relativePath.includes('/') ? one.relativePath.split('/')[0]!.slice(0, CARD_NAME).trim() : '');
    const known = (one: Dropped) => this.files.find(({ relativePath, file, card }) => relativePath === one.relativePath && file.size === one.file.size && file.lastModified === one.file.lastModified && card === cardOf(one));
    for (const one of dropped) known(one)?.queue();
    this.files = [...this.files, ...dropped.filter((one) => !known(one)).map((one) => new Sending(this.#film, one, { camera: labels.camera, card: cardOf(one) }))];
    this.#work();
  }

  pause(): void {
    for (const one of this.files) one.pause();
  }

  /** Goes on with everything that stopped. */
  goOn(): void {
    for (const one of this.stopped) one.queue();
    this.#work();
  }

  again(one: Sending): void {
    one.queue();
    this.#work();
  }

  /** Puts away a card whose every file has arrived or was refused. */
  putAway({ files }: CardFiles): void {
    this.files = this.files.filter((one) => !files.includes(one));
  }

  #work(): void {
    while (this.#working < AT_ONCE && this.#next()) {
      if (this.#working++ === 0) this.#watch();
      void this.#workOff().finally(() => {
        if (--this.#working === 0) this.#unwatch();
      });
    }
  }

  #watch(): void {
    window.addEventListener('online', this.#linkIsBack);
    window.addEventListener('beforeunload', this.#askToStay);
  }

  #unwatch(): void {
    window.removeEventListener('online', this.#linkIsBack);
    window.removeEventListener('beforeunload', this.#askToStay);
  }

  readonly #linkIsBack = (): void => this.files.forEach((one) => one.linkIsBack());
  readonly #askToStay = (event: BeforeUnloadEvent): void => event.preventDefault();

  async #workOff(): Promise<void> {
    for (let next = this.#next(); next; next = this.#next()) {
      await next.start();
      await this.#listed.give(this.files.filter(({ card }) => card === next?.card));
    }
  }

  #next(): Sending | undefined {
    return this.files.find((one) => one.is('waiting'));
  }
}

const ofFilm = new WeakMap<FilmState, Intake>();

/** The one intake of a film on this page. */
export function intakeOf(film: FilmState): Intake {
  const intake = ofFilm.get(film) ?? new Intake(film);
  ofFilm.set(film, intake);
  return intake;
}
