import { api } from '../api/client.ts';
import { Bindings } from './bindings.svelte.ts';
import { controlOf, isSingleKey, type Control, type KeptBindings } from './controls.ts';
import { Devices } from './devices.svelte.ts';
import { Learning } from './learning.svelte.ts';
import { actionOf, perform, registeredActions } from './registry.svelte.ts';

/** The one set of bindings of this page, kept with the account. */
export const bindings = new Bindings({
  load: () => api.get<unknown>('/api/me/bindings'),
  save: async (kept: KeptBindings) => void (await api.put('/api/me/bindings', kept)),
});

export const learning = new Learning(bindings);

export const devices = new Devices({
  wayOf: (dial) => bindings.dials.get(dial),
  stroke(control, times, again) {
    if (learning.action !== null) return void (again || learning.take(control));
    if (!underDialog()) act(control, times, again);
  },
  unknown: (turned) => learning.hear(turned),
});

/** Starts listening to keyboard, pads and dials; the function answered stops it. */
export function listenToHands(): () => void {
  bindings.load().catch(() => {});
  const stop = devices.start();
  window.addEventListener('keydown', onKey);
  return () => {
    window.removeEventListener('keydown', onKey);
    stop();
  };
}

/** Does what a control is for in this room. @returns whether it is for anything. */
function act(control: Control, times: number, again: boolean): boolean {
  const ids = registeredActions().map(({ id }) => id);
  for (const id of bindings.actionsFor(control, ids)) {
    if (again && !actionOf(id)?.repeats) return true;
    if (perform(id, times)) return true;
  }
  return false;
}

function onKey(event: KeyboardEvent): void {
  const control = event.defaultPrevented || event.isComposing ? null : controlOf(event);
  if (!control || belongsElsewhere(event.target, control)) return;
  if (isSingleKey(control) && !bindings.singleKeys) return;
  if (act(control, 1, event.repeat)) event.preventDefault();
}

const underDialog = (): boolean => document.querySelector('[role=dialog], [role=alertdialog], [role=menu]') !== null;

/** Keys that are text where they are typed, that work a control, or that are under an open dialog. */
function belongsElsewhere(target: EventTarget | null, control: string): boolean {
  if (!(target instanceof Element)) return false;
  if (target.closest('input:not([type=checkbox],[type=radio],[type=range]), textarea, select, [contenteditable=""], [contenteditable=true]')) return true;
  if (underDialog()) return true;
  // Arrows, Home and End are what these work with, unless one takes the keys it wants and lets the others through.
  if (!target.closest('[data-lets-keys-through]') && /^key:(Shift\+)?(Arrow|Home|End|Page)/.test(control) && target.closest('input[type=radio], input[type=range], [role=slider], [role=listbox], [role=tablist], [role=tree], [role=grid]')) return true;
  // Space works a button and Enter a link as well.
  const worked = { 'key:Space': 'button', 'key:Enter': 'button, a[href]' }[control];
  return worked !== undefined && target.closest(`${worked}, summary, [role=button], [role=option], [role=treeitem], input`) !== null;
}
