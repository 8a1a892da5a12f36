import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { playerActions } from '../actions/player-actions.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { Item } from '#contract/outline';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import type { Cutting } from './cutting.svelte.ts';
import type { Suggesting } from './suggesting.svelte.ts';

/** What the actions of the sweep work on. */
export interface Bench {
  film: FilmState;
  player: FramePlayer;
  cutting: Cutting;
  suggesting: Suggesting;
  /** Open slots as they are listed now. */
  listed: () => readonly Item[];
  takeBeside: (by: 1 | -1) => void;
  write: () => unknown;
  nameSelect: () => void;
  findSlot: () => void;
  next: () => void;
  previous: () => void;
  unseen: () => void;
  aside: () => unknown;
  showHands: () => void;
}

const OFFER_KEYS = 9;

/*
 * First controls. Beyond trade habit (I, O) keys go by initials and by how the room lies: down and up are the next and
 * the last select because time runs downward, and the keys around I and O, with Shift, move in and out by a frame:
 * U earlier and I later for in, O earlier and P later for out.
 */
const CONTROLS: Record<string, Control[]> = {
  'sweep.in': ['key:I', 'pad:left-shoulder'],
  'sweep.out': ['key:O', 'pad:right-shoulder'],
  'sweep.in-earlier': ['key:Shift+U'],
  'sweep.in-later': ['key:Shift+I'],
  'sweep.out-earlier': ['key:Shift+O'],
  'sweep.out-later': ['key:Shift+P'],
  'sweep.clear': ['key:Escape'],
  'sweep.drop': ['key:D', 'pad:face-right'],
  'sweep.circle': ['key:C', 'pad:face-left'],
  'sweep.words': ['key:W'],
  'sweep.delete': ['key:Delete'],
  'sweep.select-before': ['key:ArrowUp', 'pad:up'],
  'sweep.select-after': ['key:ArrowDown', 'pad:down'],
  'sweep.suggestion-after': ['key:S'],
  'sweep.suggestion-before': ['key:Shift+S'],
  'sweep.suggestion-take': ['key:A'],
  'sweep.note': ['key:N', 'pad:face-top'],
  'sweep.find-slot': ['key:F'],
  'sweep.next': ['key:PageDown', 'pad:middle-right'],
  'sweep.previous': ['key:PageUp', 'pad:middle-left'],
  'sweep.unseen': ['key:U'],
  'sweep.aside': ['key:X'],
  ...Object.fromEntries(Array.from({ length: OFFER_KEYS }, (_, n): [string, Control[]] => [`sweep.offer-${n + 1}`, [`key:${n + 1}`]])),
};

/** Makes the actions of the sweep available; the function answered takes them and their first controls back. */
export function registerSweep(bench: Bench): () => void {
  const { film, player, cutting, suggesting } = bench;
  const cuts = () => film.can('selects.edit');
  const inHand = () => cuts() && cutting.inHand !== null;
  const nudges = () => cuts() && cutting.range !== null;
  const actions: Action[] = [
    ...playerActions(() => player, () => cutting.range),
    { id: 'sweep.in', label: 'Set in at this frame', when: cuts, run: () => cutting.setIn(player.frame) },
    { id: 'sweep.out', label: 'Set out after this frame', when: cuts, run: () => cutting.setOut(player.frame) },
    { id: 'sweep.in-earlier', contrary: 'sweep.in-later', label: 'In one frame earlier', when: nudges, repeats: true, run: () => cutting.nudge({ in: -1 }) },
    { id: 'sweep.in-later', contrary: 'sweep.in-earlier', label: 'In one frame later', when: nudges, repeats: true, run: () => cutting.nudge({ in: 1 }) },
    { id: 'sweep.out-earlier', contrary: 'sweep.out-later', label: 'Out one frame earlier', when: nudges, repeats: true, run: () => cutting.nudge({ out: -1 }) },
    { id: 'sweep.out-later', contrary: 'sweep.out-earlier', label: 'Out one frame later', when: nudges, repeats: true, run: () => cutting.nudge({ out: 1 }) },
    {
      id: 'sweep.clear',
      label: 'Let go of in, out, the select in hand and the suggested stretch',
      run: () => {
        cutting.clear();
        suggesting.lookedAt = null;
      },
    },
    { id: 'sweep.drop', label: 'Drop a select from in to out', when: cuts, run: () => cutting.drop() },
    { id: 'sweep.circle', label: 'Circle the select in hand, or take the circle away', when: cuts, run: () => cutting.circle() },
    { id: 'sweep.words', label: 'Write words on the select in hand', when: inHand, run: bench.nameSelect },
    { id: 'sweep.delete', label: 'Delete the select in hand', when: inHand, run: () => cutting.remove() },
    { id: 'sweep.select-before', contrary: 'sweep.select-after', label: 'Take the select before in hand', run: () => bench.takeBeside(-1) },
    { id: 'sweep.select-after', contrary: 'sweep.select-before', label: 'Take the next select in hand', run: () => bench.takeBeside(1) },
    { id: 'sweep.suggestion-after', contrary: 'sweep.suggestion-before', label: 'Go to the next suggested stretch', run: () => suggesting.look(1) },
    { id: 'sweep.suggestion-before', contrary: 'sweep.suggestion-after', label: 'Go to the suggested stretch before', run: () => suggesting.look(-1) },
    { id: 'sweep.suggestion-take', label: 'Take the suggested stretch as a select', when: cuts, run: () => suggesting.take() },
    { id: 'sweep.note', label: 'Write or draw a note on this frame, or on in to out', when: () => film.can('notes.write'), run: bench.write },
    { id: 'sweep.find-slot', label: 'Find an open slot', run: bench.findSlot },
    { id: 'sweep.next', contrary: 'sweep.previous', label: 'Next clip', run: bench.next },
    { id: 'sweep.previous', contrary: 'sweep.next', label: 'Clip before', run: bench.previous },
    { id: 'sweep.unseen', label: 'Next clip with something unseen', run: bench.unseen },
    { id: 'sweep.aside', label: 'Put the clip aside, because nothing in it is usable, or take it back', when: cuts, run: bench.aside },
    ...Array.from({ length: OFFER_KEYS }, (_, n) => ({
      id: `sweep.offer-${n + 1}`,
      label: `Offer for slot ${n + 1} of the list`,
      when: () => film.can('offers.edit') && bench.listed()[n] !== undefined,
      run: () => cutting.offer(bench.listed()[n]!),
    })),
    { id: 'hands.show', label: 'Show what each control does', run: bench.showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
