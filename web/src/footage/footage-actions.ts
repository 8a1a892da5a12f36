import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { Way } from './moving.ts';

/** What the actions of the footage work on. */
export interface TableHands {
  film: FilmState;
  /** Whether the person is at the clips, or nowhere in particular. */
  atClips: () => boolean;
  anyChosen: () => boolean;
  /** Goes to the clip that lies that way; `choosing`: and chooses it on the way. */
  go: (way: Way, choosing: boolean) => void;
  toggle: () => void;
  chooseAll: () => void;
  chooseNone: () => void;
  remove: () => unknown;
  showHands: () => void;
}

const WAYS: readonly { way: Way; contrary: Way; key: string; pad: string; words: string }[] = [
  { way: 'left', contrary: 'right', key: 'ArrowLeft', pad: 'left', words: 'the clip before' },
  { way: 'right', contrary: 'left', key: 'ArrowRight', pad: 'right', words: 'the next clip' },
  { way: 'up', contrary: 'down', key: 'ArrowUp', pad: 'up', words: 'the clip above' },
  { way: 'down', contrary: 'up', key: 'ArrowDown', pad: 'down', words: 'the clip below' },
  { way: 'first', contrary: 'last', key: 'Home', pad: 'left-shoulder', words: 'the first clip' },
  { way: 'last', contrary: 'first', key: 'End', pad: 'right-shoulder', words: 'the last clip' },
];

/** First controls: the keys that move in every table, with Shift choosing on as in every list. */
const CONTROLS: Record<string, Control[]> = {
  ...Object.fromEntries(WAYS.flatMap(({ way, key, pad }): [string, Control[]][] => [[`footage.${way}`, [`key:${key}`, `pad:${pad}`]], [`footage.choose-${way}`, [`key:Shift+${key}`]]])),
  'footage.choose': ['key:Space', 'pad:face-bottom'],
  'footage.choose-all': ['key:Ctrl+A', 'key:Meta+A'],
  'footage.choose-none': ['key:Escape'],
  'footage.remove': ['key:Delete'],
};

/** Makes the actions of the footage available; the function answered takes them and their first controls back. */
export function registerFootage(hands: TableHands): () => void {
  const { film, atClips: when } = hands;
  const actions: Action[] = [
    ...WAYS.map(({ way, contrary, words }) => ({ id: `footage.${way}`, contrary: `footage.${contrary}`, label: `Go to ${words}`, when, repeats: true, run: () => hands.go(way, false) })),
    ...WAYS.map(({ way, contrary, words }) => ({ id: `footage.choose-${way}`, contrary: `footage.choose-${contrary}`, label: `Choose on to ${words}`, when, repeats: true, run: () => hands.go(way, true) })),
    { id: 'footage.choose', label: 'Choose the clip, or leave it out again', when, run: hands.toggle },
    { id: 'footage.choose-all', label: 'Choose all clips', when, run: hands.chooseAll },
    { id: 'footage.choose-none', label: 'Choose none', when: () => when() && hands.anyChosen(), run: hands.chooseNone },
    { id: 'footage.remove', label: 'Take the clip, or those chosen, out of the film', when: () => when() && film.can('clips.edit'), run: hands.remove },
    { id: 'hands.show', label: 'Show what each control does', run: hands.showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
