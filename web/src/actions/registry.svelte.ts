import { SvelteMap } from 'svelte/reactivity';

/** Something a person can do, by name. Controls are bound to its id; see bindings.svelte.ts. */
export interface Action {
  /** `room.what`, stable: bindings are kept by it. */
  id: string;
  /** A plain phrase of the trade, such as "Step one frame forward". */
  label: string;
  run: () => unknown;
  /** Whether it can be done just now; it can when left out. */
  when?: () => boolean;
  /** Whether holding the control, or turning a dial on, does it again and again. */
  repeats?: boolean;
  /** Id of the action that does the contrary: the other direction of the dial that does this one. */
  contrary?: string;
}

const actions = new SvelteMap<string, Action>();

/** Makes actions available; what you register you release. @returns the function that takes them back. */
export function registerActions(given: readonly Action[]): () => void {
  for (const action of given) actions.set(action.id, action);
  return () => {
    for (const action of given) if (actions.get(action.id) === action) actions.delete(action.id);
  };
}

/** What can be done here and now, in the order it was registered. */
export function registeredActions(): Action[] {
  return [...actions.values()];
}

/**
 * Does it, when there is such an action and it can be done.
 * @param times how often, for one that repeats; any other is done once.
 * @returns whether it was done.
 */
export function perform(id: string, times = 1): boolean {
  const action = actions.get(id);
  if (!action || action.when?.() === false) return false;
  for (let n = 0; n < (action.repeats ? times : 1); n++) void action.run();
  return true;
}

export function actionOf(id: string): Action | undefined {
  return actions.get(id);
}
