import { faultsOf, type Fault } from '#core/faults.ts';
import type { Rate } from '#core/rate.ts';
import { suggestionsOf, type Suggestion } from '#core/suggestions.ts';
import { TRACES_VERSION, type Traces } from '#core/traces.ts';

/*
 * What was measured of one proxy.
 * States: waiting (the proxy is still being made, or its file is on its way) -> there, none (made before there were traces,
 * or by another version of them), or failed (it could not be fetched).
 */
export class ClipTraces {
  state: 'waiting' | 'there' | 'none' | 'failed' = $state('waiting');
  #traces: Traces | null = $state.raw(null);
  readonly #rate: Rate;

  constructor(rate: Rate) {
    this.#rate = rate;
  }

  readonly faults: readonly Fault[] = $derived.by(() => (this.#traces ? faultsOf(this.#traces, this.#rate) : []));
  readonly suggestions: readonly Suggestion[] = $derived.by(() => (this.#traces ? suggestionsOf(this.#traces, this.#rate) : []));
  readonly hasSound = $derived.by(() => this.#traces?.sound !== null);
  /** Where the picture flashes more than is harmless. */
  readonly flashing = $derived.by(() => this.faults.filter(({ kind }) => kind === 'flashing'));

  async load(url: string): Promise<void> {
    try {
      const answer = await fetch(url, { credentials: 'same-origin' });
      if (answer.status === 404) return void (this.state = 'none');
      if (!answer.ok) throw new Error(`The traces answered ${answer.status}.`);
      const traces = (await answer.json()) as Traces;
      this.#traces = traces.version === TRACES_VERSION ? traces : null;
      this.state = this.#traces ? 'there' : 'none';
    } catch {
      this.state = 'failed';
    }
  }
}
