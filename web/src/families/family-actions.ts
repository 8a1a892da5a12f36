import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { playerActions } from '../actions/player-actions.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { Cutting } from '../sweep/cutting.svelte.ts';
import type { FamilyBench } from './family-bench.svelte.ts';

export interface FamilyHands {
  film: FilmState;
  bench: FamilyBench;
  cutting: Cutting;
  /** Whether there is a family to split. */
  joined: () => boolean;
  splitOut: () => unknown;
  dissolve: () => unknown;
  showHands: () => void;
}

/* First controls: the same keys for in, out and dropping as in the sweep, by initials for the rest. */
const CONTROLS: Record<string, Control[]> = {
  'family.before': ['key:ArrowUp', 'pad:up'],
  'family.after': ['key:ArrowDown', 'pad:down'],
  'family.in': ['key:I', 'pad:left-shoulder'],
  'family.out': ['key:O', 'pad:right-shoulder'],
  'family.drop': ['key:Enter', 'pad:face-right'],
  'family.split': ['key:S'],
};

/** Makes the actions of the family bench available; the function answered takes them and their first controls back. */
export function registerFamily({ film, bench, cutting, joined, splitOut, dissolve, showHands }: FamilyHands): () => void {
  const cuts = () => film.can('selects.edit') && bench.player !== null;
  const splits = () => film.can('selects.edit') && joined();
  const inStep: Record<string, () => unknown> = {
    'player.play': () => bench.toggle(),
    // The first press plays all in step; again, the one in hand goes faster and the others follow it.
    'player.forward': () => (bench.inStep || bench.player?.playing ? bench.player?.shuttle(1) : bench.toggle()),
  };
  const actions: Action[] = [
    ...playerActions(() => bench.player, () => cutting.range).map((action) => ({ ...action, run: inStep[action.id] ?? action.run })),
    { id: 'family.before', contrary: 'family.after', label: 'Take the clip before in hand', run: () => bench.takeBeside(-1) },
    { id: 'family.after', contrary: 'family.before', label: 'Take the next clip in hand', run: () => bench.takeBeside(1) },
    { id: 'family.in', label: 'Set in on the clip in hand', when: cuts, run: () => cutting.setIn(bench.player!.frame) },
    { id: 'family.out', label: 'Set out on the clip in hand', when: cuts, run: () => cutting.setOut(bench.player!.frame) },
    { id: 'family.drop', label: 'Drop a select from in to out', when: cuts, run: () => cutting.drop() },
    { id: 'family.split', label: 'Split the clip in hand out of the family', when: splits, run: splitOut },
    { id: 'family.dissolve', label: 'Dissolve the family', when: splits, run: dissolve },
    { id: 'hands.show', label: 'Show what each control does', run: showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
