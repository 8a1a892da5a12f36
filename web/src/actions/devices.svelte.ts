// Listens to pads (Gamepad API) and to what speaks MIDI (Web MIDI). Both are given to pages from this machine or over
// https only, and the browser asks the person before it lets a page hear MIDI.
import type { Control } from './controls.ts';
import { noteOf, notches, strokeOf, turnOf, type Turned, type Way } from './midi.ts';
import { heldOn } from './pad.ts';

/** Held, a control acts again after this long, and then this often: as keyboards do (common practice, no source). */
const REPEAT_AFTER_MS = 400;
const REPEAT_EVERY_MS = 60;

export interface Listener {
  /** How a dial says that it turned, where that is known. */
  wayOf(dial: string): Way | undefined;
  /** A control was pressed, or turned by so many notches; `again` when it is only still held. */
  stroke(control: Control, times: number, again: boolean): void;
  /** A dial spoke whose way of counting is not known. */
  unknown(turned: Turned): void;
}

/** `absent`: this browser, or this address, lets no page hear MIDI. */
export type MidiState = 'off' | 'asking' | 'on' | 'refused' | 'absent';

export class Devices {
  midi: MidiState = $state('off');
  /** Names of what can be heard just now. */
  names: string[] = $state.raw([]);
  readonly #listener: Listener;
  readonly #said = new Map<string, number>();
  readonly #held = new Map<Control, number>();
  #access: MIDIAccess | null = null;
  #frame: number | null = null;

  constructor(listener: Listener) {
    this.#listener = listener;
  }

  /** Listens to pads, and to MIDI where the person has allowed it before; the function answered stops it. */
  start(): () => void {
    const look = () => this.#lookAtPads();
    window.addEventListener('gamepadconnected', look);
    if ('requestMIDIAccess' in navigator) void this.#allowedBefore().then((allowed) => (allowed ? this.askForMidi() : undefined));
    else this.midi = 'absent';
    return () => {
      window.removeEventListener('gamepadconnected', look);
      if (this.#frame !== null) cancelAnimationFrame(this.#frame);
      this.#frame = null;
      for (const input of this.#access?.inputs.values() ?? []) input.onmidimessage = null;
    };
  }

  /** Asks the browser, which asks the person. */
  async askForMidi(): Promise<void> {
    this.midi = 'asking';
    try {
      const access = await navigator.requestMIDIAccess();
      this.#access = access;
      access.onstatechange = () => this.#hear(access);
      this.#hear(access);
      this.midi = 'on';
    } catch {
      this.midi = 'refused';
    }
  }

  async #allowedBefore(): Promise<boolean> {
    const status = await navigator.permissions.query({ name: 'midi' as PermissionName }).catch(() => null);
    return status?.state === 'granted';
  }

  #hear(access: MIDIAccess): void {
    const inputs = [...access.inputs.values()];
    for (const input of inputs) input.onmidimessage = ({ data }) => data && this.#take(data);
    this.names = inputs.flatMap(({ name }) => (name ? [name] : []));
  }

  #take(data: Uint8Array): void {
    const note = noteOf(data);
    if (note) return this.#listener.stroke(note.control, note.times, false);
    const turned = turnOf(data);
    if (!turned) return;
    const { dial, value } = turned;
    const way = this.#listener.wayOf(dial);
    if (!way) return this.#listener.unknown(turned);
    const stroke = strokeOf(dial, way, notches(way, value, this.#said.get(dial)));
    this.#said.set(dial, value);
    if (stroke) this.#listener.stroke(stroke.control, stroke.times, false);
  }

  /** Pads say nothing by themselves: they are looked at with every picture the screen shows, while there is one. */
  #lookAtPads(): void {
    this.#frame ??= requestAnimationFrame((now) => {
      this.#frame = null;
      const pads = navigator.getGamepads().filter((pad) => pad !== null);
      const held = new Set(pads.flatMap(heldOn));
      for (const control of this.#held.keys()) if (!held.has(control)) this.#held.delete(control);
      for (const control of held) {
        const due = this.#held.get(control);
        if (due !== undefined && now < due) continue;
        this.#held.set(control, now + (due === undefined ? REPEAT_AFTER_MS : REPEAT_EVERY_MS));
        this.#listener.stroke(control, 1, due !== undefined);
      }
      if (pads.length) this.#lookAtPads();
    });
  }
}
