import { say } from '../ui/say.svelte.ts';
import type { Bindings } from './bindings.svelte.ts';
import { wordsOf } from './control-words.ts';
import type { Control } from './controls.ts';
import { notches, strokeOf, wayOf, type Turned } from './midi.ts';
import { actionOf, registeredActions } from './registry.svelte.ts';

/** A control that was just learned goes on speaking while the hand comes to rest; it is not heard until it was quiet this long. */
const REST_MS = 500;

/**
 * Gives actions their controls by moving the control.
 * States: idle -> learning one action -> idle, or with a list: -> the next of it -> … -> idle.
 */
export class Learning {
  /** The action that waits for its control. */
  action: string | null = $state(null);
  /** A dial has spoken, but not yet enough to tell how it counts. */
  more = $state(false);
  /** Actions that come after this one. */
  left: string[] = $state.raw([]);
  readonly #bindings: Bindings;
  #dial: string | null = null;
  #values: number[] = [];
  #resting: { stem: string; until: number } | null = null;

  constructor(bindings: Bindings) {
    this.#bindings = bindings;
  }

  /** Learns the controls of these actions, one after the other; those that are not registered are left out. */
  begin(actions: readonly string[]): void {
    this.left = actions.filter((id) => actionOf(id));
    this.skip();
  }

  /** Leaves this action as it is, and goes on to the next of the list. */
  skip(): void {
    const [next = null, ...left] = this.left;
    this.action = next;
    this.left = left;
    this.#forget();
  }

  end(): void {
    this.left = [];
    this.skip();
  }

  /** A control was moved. */
  async take(control: Control): Promise<void> {
    const id = this.action;
    if (id === null || this.#isResting(stemOf(control))) return;
    if (control === 'key:Escape' || control === 'key:Tab') return this.skip();
    const action = actionOf(id);
    const other = contraryOf(control);
    const given: [string, Control][] = [[id, control]];
    if (other && action?.contrary && actionOf(action.contrary)) given.push([action.contrary, other]);
    this.#resting = { stem: stemOf(control), until: Date.now() + REST_MS };
    this.skip();
    await this.#bindings.bind(given, registeredActions().map((one) => one.id));
    say(given.map(([one, by]) => `${wordsOf(by)}: ${actionOf(one)?.label ?? ''}`).join('. '));
  }

  /** A dial spoke that nobody knows yet. */
  hear({ dial, value }: Turned): void {
    if (this.action === null || this.#isResting(dial)) return;
    if (dial !== this.#dial) this.#forget();
    this.#dial = dial;
    this.#values.push(value);
    this.more = true;
    const way = wayOf(this.#values);
    if (!way) return;
    const first = this.#values.map((said, n) => notches(way, said, this.#values[n - 1])).find((turned) => turned !== 0) ?? 0;
    const stroke = strokeOf(dial, way, first);
    if (!stroke) return;
    this.#bindings.know(dial, way);
    void this.take(stroke.control);
  }

  #forget(): void {
    this.#dial = null;
    this.#values = [];
    this.more = false;
  }

  #isResting(stem: string): boolean {
    if (this.#resting?.stem !== stem || Date.now() > this.#resting.until) return false;
    this.#resting.until = Date.now() + REST_MS;
    return true;
  }
}

/** A dial or an axis, whichever way it moves. */
const stemOf = (control: Control): string => (control.startsWith('key:') ? control : control.replace(/[+-]$/, ''));

function contraryOf(control: Control): Control | null {
  if (control.startsWith('key:')) return null;
  const way = control.at(-1);
  return way === '+' || way === '-' ? `${control.slice(0, -1) as Control}${way === '+' ? '-' : '+'}` : null;
}
