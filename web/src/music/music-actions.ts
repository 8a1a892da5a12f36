import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { Track } from '#contract/music';
import type { Listening } from './listening.svelte.ts';
import type { Marking } from './marking.svelte.ts';
import type { Tapping } from './tapping.svelte.ts';

/** What the actions of the Music room work on: the track laid out. */
export interface MusicBench {
  track: () => Track | null;
  candidates: () => readonly Track[];
  listening: Listening;
  marking: Marking;
  tapping: Tapping;
  zoom: (factor: number | 'whole') => void;
  /** Goes to a moment and brings it into view. */
  go: (atMs: number) => void;
  nameMark: () => void;
  showHands: () => void;
}

const STEP_MS = 10;
const COMPARED = 9;

// First controls go by initials, and by how the list of tracks is numbered.
const CONTROLS: Record<string, Control[]> = {
  'music.play': ['key:Space', 'pad:face-bottom'],
  'music.tap': ['key:T', 'pad:face-right'],
  'music.add': ['key:A', 'pad:face-top'],
  'music.name': ['key:N', 'pad:face-left'],
  'music.delete': ['key:Delete'],
  'music.before': ['key:ArrowUp', 'pad:left'],
  'music.after': ['key:ArrowDown', 'pad:right'],
  'music.earlier': ['key:Shift+ArrowLeft'],
  'music.later': ['key:Shift+ArrowRight'],
  'music.let-go': ['key:Escape'],
  'music.closer': ['key:+', 'pad:up'],
  'music.further': ['key:-', 'pad:down'],
  'music.whole': ['key:0'],
  'music.equal': ['key:E'],
  ...Object.fromEntries(Array.from({ length: COMPARED }, (_, n): [string, Control[]] => [`music.hear-${n + 1}`, [`key:${n + 1}`]])),
};

/** Makes the actions of the Music room available; the function answered takes them and their first controls back. */
export function registerMusic({ track, candidates, listening, marking, tapping, zoom, go, nameMark, showHands }: MusicBench): () => void {
  const held = () => marking.may && marking.inHand !== null;
  const take = (by: 1 | -1) => () => {
    const mark = marking.takeBeside(by, listening.positionMs);
    if (mark) go(mark.atMs);
  };
  const actions: Action[] = [
    { id: 'music.play', label: 'Play or pause', when: () => track() !== null, run: () => listening.toggle(track()!) },
    { id: 'music.tap', label: 'Tap a mark in, while it plays', when: () => marking.may && listening.playing, run: () => tapping.tap() },
    { id: 'music.add', label: 'Add a named mark where it stands', when: () => marking.may, run: () => marking.add({ kind: 'named', atMs: Math.round(listening.now()) }) },
    { id: 'music.name', label: 'Name the mark in hand', when: held, run: nameMark },
    { id: 'music.delete', label: 'Delete the mark in hand', when: held, run: () => marking.remove(marking.inHand!) },
    { id: 'music.before', contrary: 'music.after', label: 'Take the mark before in hand', repeats: true, run: take(-1) },
    { id: 'music.after', contrary: 'music.before', label: 'Take the next mark in hand', repeats: true, run: take(1) },
    { id: 'music.earlier', contrary: 'music.later', label: 'Mark in hand 10 ms earlier', when: held, repeats: true, run: () => marking.nudge(-STEP_MS) },
    { id: 'music.later', contrary: 'music.earlier', label: 'Mark in hand 10 ms later', when: held, repeats: true, run: () => marking.nudge(STEP_MS) },
    { id: 'music.let-go', label: 'Let go of the mark in hand', when: () => marking.inHand !== null, run: () => marking.take(null) },
    { id: 'music.closer', contrary: 'music.further', label: 'Closer to the wave', repeats: true, run: () => zoom(2) },
    { id: 'music.further', contrary: 'music.closer', label: 'Further from the wave', repeats: true, run: () => zoom(0.5) },
    { id: 'music.whole', label: 'The whole track', run: () => zoom('whole') },
    { id: 'music.equal', label: 'Equal loudness on or off', run: () => (listening.equal = !listening.equal) },
    ...Array.from({ length: COMPARED }, (_, n) => ({
      id: `music.hear-${n + 1}`,
      label: `Hear track ${n + 1} at this moment`,
      when: () => candidates()[n]?.state === 'ready',
      run: () => listening.changeOver(candidates()[n]!),
    })),
    { id: 'hands.show', label: 'Show what each control does', run: showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
