import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { playerActions } from '../actions/player-actions.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import type { Shot } from './film-view.svelte.ts';

/** What the actions of the string-out work on. */
export interface Bench {
  film: FilmState;
  player: FramePlayer;
  shot: () => Shot | null;
  besideShot: (by: 1 | -1) => void;
  besideSequence: (by: 1 | -1) => void;
  besideMark: (by: 1 | -1) => void;
  /** Moves in or out of the take in hand by frames. */
  trim: (by: { in?: number; out?: number }) => void;
  write: () => void;
  showHands: () => void;
}

/** First controls: as in the sweep, what is before and after lies up and down, larger steps by page, trims by Shift and the keys around I and O. */
const CONTROLS: Record<string, Control[]> = {
  'string-out.shot-before': ['key:ArrowUp', 'pad:up'],
  'string-out.shot-after': ['key:ArrowDown', 'pad:down'],
  'string-out.sequence-before': ['key:PageUp', 'pad:middle-left'],
  'string-out.sequence-after': ['key:PageDown', 'pad:middle-right'],
  'string-out.mark-before': ['key:Shift+M'],
  'string-out.mark-after': ['key:M'],
  'string-out.note': ['key:N', 'pad:face-top'],
  'string-out.in-earlier': ['key:Shift+U'],
  'string-out.in-later': ['key:Shift+I'],
  'string-out.out-earlier': ['key:Shift+O'],
  'string-out.out-later': ['key:Shift+P'],
};

/** Makes the actions of the string-out available; the function answered takes them and their first controls back. */
export function registerStringOut(bench: Bench): () => void {
  const { film, player } = bench;
  const trims = () => film.can('offers.edit') && !!bench.shot()?.stretch.take;
  const trim = (by: { in?: number; out?: number }) => () => bench.trim(by);
  const actions: Action[] = [
    ...playerActions(() => player, () => bench.shot()?.stretch.film ?? null),
    { id: 'string-out.shot-before', contrary: 'string-out.shot-after', label: 'To the beginning of the shot, then to the one before', run: () => bench.besideShot(-1) },
    { id: 'string-out.shot-after', contrary: 'string-out.shot-before', label: 'To the next shot', run: () => bench.besideShot(1) },
    { id: 'string-out.sequence-before', contrary: 'string-out.sequence-after', label: 'To the beginning of the sequence, then to the one before', run: () => bench.besideSequence(-1) },
    { id: 'string-out.sequence-after', contrary: 'string-out.sequence-before', label: 'To the next sequence', run: () => bench.besideSequence(1) },
    { id: 'string-out.mark-before', contrary: 'string-out.mark-after', label: 'To the mark before', run: () => bench.besideMark(-1) },
    { id: 'string-out.mark-after', contrary: 'string-out.mark-before', label: 'To the next mark of the track', run: () => bench.besideMark(1) },
    { id: 'string-out.in-earlier', contrary: 'string-out.in-later', label: 'In of the take one frame earlier', when: trims, repeats: true, run: trim({ in: -1 }) },
    { id: 'string-out.in-later', contrary: 'string-out.in-earlier', label: 'In of the take one frame later', when: trims, repeats: true, run: trim({ in: 1 }) },
    { id: 'string-out.out-earlier', contrary: 'string-out.out-later', label: 'Out of the take one frame earlier', when: trims, repeats: true, run: trim({ out: -1 }) },
    { id: 'string-out.out-later', contrary: 'string-out.out-earlier', label: 'Out of the take one frame later', when: trims, repeats: true, run: trim({ out: 1 }) },
    { id: 'string-out.note', label: 'Write a note on this frame', when: () => film.can('notes.write'), run: bench.write },
    { id: 'hands.show', label: 'Show what each control does', run: bench.showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
