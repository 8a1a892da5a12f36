import { SvelteMap } from 'svelte/reactivity';
import { COARSEST, kindOf, NOTHING_KEPT, readKept, type Control, type KeptBindings } from './controls.ts';
import type { Way } from './midi.ts';

export interface BindingStore {
  load(): Promise<unknown>;
  save(kept: KeptBindings): Promise<void>;
}

/**
 * Controls an action has unless a person gave it others. J, K, L and I, O are trade habit; other keys go by initials. On a
 * pad the thumb of one hand moves through time and that of the other says what happens there. Dials have none: each maker
 * numbers them otherwise.
 */
const DEFAULTS: Record<string, Control[]> = {
  'player.play': ['key:Space', 'pad:face-bottom'],
  'player.back': ['key:J', 'pad:left-trigger'],
  'player.stop': ['key:K', 'pad:left-stick'],
  'player.forward': ['key:L', 'pad:right-trigger'],
  'player.step-back': ['key:ArrowLeft', 'pad:left'],
  'player.step-forward': ['key:ArrowRight', 'pad:right'],
  'player.coarse-back': ['key:Shift+ArrowLeft', 'pad:left-stick-sideways-'],
  'player.coarse-forward': ['key:Shift+ArrowRight', 'pad:left-stick-sideways+'],
  'player.first': ['key:Home'],
  'player.last': ['key:End'],
  'player.sound': ['key:M'],
  'player.louder': ['key:+'],
  'player.softer': ['key:-'],
  'player.loop': ['key:/', 'pad:right-stick'],
  'hands.show': ['key:?', 'pad:middle'],
};

/** Which control does what, for the person at the screen. */
export class Bindings {
  singleKeys = $state(true);
  coarseStep = $state(NOTHING_KEPT.coarseStep);
  /** The room the person is in: its controls are the ones that act and that are changed. */
  room = $state('');
  /** How dials say that they turned, by name without the direction. */
  readonly dials = new SvelteMap<string, Way>();
  /** By room and action, as `placeOf` writes them. */
  readonly #own = new SvelteMap<string, Control[]>();
  readonly #defaults = new SvelteMap<string, Control[]>(Object.entries(DEFAULTS));
  readonly #store: BindingStore;

  constructor(store: BindingStore) {
    this.#store = store;
  }

  /** Gives actions of a room their defaults; the function answered takes them back. */
  suggest(defaults: Record<string, Control[]>): () => void {
    for (const [id, controls] of Object.entries(defaults)) this.#defaults.set(id, controls);
    return () => {
      for (const id of Object.keys(defaults)) this.#defaults.delete(id);
    };
  }

  async load(): Promise<void> {
    const kept = readKept(await this.#store.load());
    if (kept) this.#adopt(kept);
  }

  controlsOf(id: string): Control[] {
    return this.#own.get(placeOf(this.room, id)) ?? this.#defaults.get(id) ?? [];
  }

  /** Actions of those given that a control does. */
  actionsFor(control: Control, ids: readonly string[]): string[] {
    return ids.filter((id) => this.controlsOf(id).includes(control));
  }

  /**
   * Gives actions of this room a control each, and takes it from the others given, so that one control does one thing.
   * An action keeps what it has on other kinds of control: a dial takes nothing from the keyboard.
   */
  bind(given: readonly (readonly [id: string, control: Control])[], ids: readonly string[]): Promise<void> {
    for (const [id, control] of given) {
      for (const other of this.actionsFor(control, ids)) if (other !== id) this.#own.set(placeOf(this.room, other), this.controlsOf(other).filter((one) => one !== control));
      this.#own.set(placeOf(this.room, id), [...this.controlsOf(id).filter((one) => kindOf(one) !== kindOf(control)), control].toSorted((a, b) => kindOf(a).localeCompare(kindOf(b))));
    }
    return this.#save();
  }

  /** Remembers how a dial says that it turned; kept with the next control that is given. */
  know(dial: string, way: Way): void {
    this.dials.set(dial, way);
  }

  reset(): Promise<void> {
    this.#adopt(NOTHING_KEPT);
    return this.#save();
  }

  setSingleKeys(on: boolean): Promise<void> {
    this.singleKeys = on;
    return this.#save();
  }

  setCoarseStep(frames: number): Promise<void> {
    this.coarseStep = Math.max(2, Math.min(COARSEST, Math.round(frames) || NOTHING_KEPT.coarseStep));
    return this.#save();
  }

  export(): string {
    return JSON.stringify(this.#kept(), null, 2);
  }

  /** @throws Error in words when the text is not an export of bindings. */
  async import(text: string): Promise<void> {
    let kept: unknown;
    try {
      kept = JSON.parse(text);
    } catch {
      throw new Error('This file is not JSON.');
    }
    const read = readKept(kept);
    if (!read) throw new Error('This file holds no bindings of this version.');
    this.#adopt(read);
    await this.#save();
  }

  #kept(): KeptBindings {
    const rooms: KeptBindings['rooms'] = {};
    for (const [place, controls] of this.#own) {
      const [room, id] = place.split(' ') as [string, string];
      (rooms[room] ??= {})[id] = controls;
    }
    return { version: 3, rooms, singleKeys: this.singleKeys, coarseStep: this.coarseStep, dials: Object.fromEntries(this.dials) };
  }

  #adopt(kept: KeptBindings): void {
    this.#own.clear();
    for (const [room, controls] of Object.entries(kept.rooms)) for (const [id, list] of Object.entries(controls)) this.#own.set(placeOf(room, id), list);
    this.dials.clear();
    for (const [dial, way] of Object.entries(kept.dials)) this.dials.set(dial, way);
    this.singleKeys = kept.singleKeys;
    this.coarseStep = kept.coarseStep;
  }

  #save(): Promise<void> {
    return this.#store.save(this.#kept());
  }
}

const placeOf = (room: string, id: string): string => `${room} ${id}`;
