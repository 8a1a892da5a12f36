import type { Control } from '../actions/controls.ts';
import { bindings } from '../actions/hands.svelte.ts';
import { playerActions } from '../actions/player-actions.ts';
import { registerActions, type Action } from '../actions/registry.svelte.ts';
import type { Offer } from '#contract/offers';
import type { FilmState } from '../live/film-state.svelte.ts';
import type { FramePlayer } from '../player/player.svelte.ts';
import type { Said } from './deciding.ts';
import { playTake } from './playing.ts';

/** What the actions of the picks work on. */
export interface SlotHands {
  film: FilmState;
  /** The take in hand, as it is trimmed on this screen, and its player. */
  take: () => Offer | null;
  player: () => FramePlayer | null;
  give: (verdict: Said) => unknown;
  takeBeside: (by: 1 | -1) => void;
  trim: (change: { in?: number; outExclusive?: number }) => void;
  nudge: (by: { in?: number; out?: number }) => void;
  playAll: () => unknown;
  playNeighbour: (which: 'before' | 'after') => void;
  write: () => unknown;
  findSelect: () => void;
  next: () => void;
  previous: () => void;
  undecided: () => void;
  showHands: () => void;
}

/*
 * First controls, by initials; down and up are the next offer and the one before, and with Shift the takes that come after
 * and before this slot in the film. In and out move by the same keys as in the sweep.
 */
const CONTROLS: Record<string, Control[]> = {
  'picks.approve': ['key:A', 'pad:face-right'],
  'picks.hold': ['key:H', 'pad:face-left'],
  'picks.pass': ['key:P', 'pad:face-top'],
  'picks.open': ['key:Backspace'],
  'picks.offer-before': ['key:ArrowUp', 'pad:up'],
  'picks.offer-after': ['key:ArrowDown', 'pad:down'],
  'picks.play-before': ['key:Shift+ArrowUp'],
  'picks.play-after': ['key:Shift+ArrowDown'],
  'picks.in-step': ['key:S'],
  'picks.in': ['key:I', 'pad:left-shoulder'],
  'picks.out': ['key:O', 'pad:right-shoulder'],
  'picks.in-earlier': ['key:Shift+U'],
  'picks.in-later': ['key:Shift+I'],
  'picks.out-earlier': ['key:Shift+O'],
  'picks.out-later': ['key:Shift+P'],
  'picks.note': ['key:N'],
  'picks.find-select': ['key:F'],
  'picks.next': ['key:PageDown', 'pad:middle-right'],
  'picks.previous': ['key:PageUp', 'pad:middle-left'],
  'picks.undecided': ['key:U'],
};

/** Makes the actions of a slot's page available; the function answered takes them and their first controls back. */
export function registerPicks(hands: SlotHands): () => void {
  const { film, take, player } = hands;
  const range = () => {
    const offer = take();
    return offer && { in: offer.in, outExclusive: offer.outExclusive };
  };
  const decides = () => film.can('verdicts.give') && take() !== null;
  const trims = () => film.can('offers.edit') && take() !== null;
  const atFrame = () => trims() && player() !== null;
  // A take is watched in its trim: playing, first and last mean the take and not its whole clip.
  const ofTake: Record<string, () => unknown> = {
    'player.play': () => {
      const [one, stretch] = [player(), range()];
      if (one && stretch) return one.playing ? one.pause() : playTake(one, stretch);
    },
    'player.first': () => player()?.seek(take()?.in ?? 0),
    'player.last': () => player()?.seek((take()?.outExclusive ?? 1) - 1),
  };
  const actions: Action[] = [
    ...playerActions(player, range).map((action) => ({ ...action, run: ofTake[action.id] ?? action.run })),
    { id: 'picks.approve', label: 'Approve the take in hand', when: decides, run: () => hands.give('approve') },
    { id: 'picks.hold', label: 'Hold the take in hand', when: decides, run: () => hands.give('hold') },
    { id: 'picks.pass', label: 'Pass on the take in hand, with a reason', when: decides, run: () => hands.give('pass') },
    { id: 'picks.open', label: 'Take the verdict back', when: () => decides() && take()?.verdict !== 'open', run: () => hands.give('open') },
    { id: 'picks.offer-before', contrary: 'picks.offer-after', label: 'Take the offer before in hand', run: () => hands.takeBeside(-1) },
    { id: 'picks.offer-after', contrary: 'picks.offer-before', label: 'Take the next offer in hand', run: () => hands.takeBeside(1) },
    { id: 'picks.in-step', label: 'Play all offers in step, each from its in', when: () => take() !== null, run: hands.playAll },
    { id: 'picks.play-before', contrary: 'picks.play-after', label: 'Play the take before this slot', run: () => hands.playNeighbour('before') },
    { id: 'picks.play-after', contrary: 'picks.play-before', label: 'Play the take after this slot', run: () => hands.playNeighbour('after') },
    { id: 'picks.in', label: 'Trim in to this frame', when: atFrame, run: () => hands.trim({ in: player()!.frame }) },
    { id: 'picks.out', label: 'Trim out to after this frame', when: atFrame, run: () => hands.trim({ outExclusive: player()!.frame + 1 }) },
    { id: 'picks.in-earlier', contrary: 'picks.in-later', label: 'In one frame earlier', when: trims, repeats: true, run: () => hands.nudge({ in: -1 }) },
    { id: 'picks.in-later', contrary: 'picks.in-earlier', label: 'In one frame later', when: trims, repeats: true, run: () => hands.nudge({ in: 1 }) },
    { id: 'picks.out-earlier', contrary: 'picks.out-later', label: 'Out one frame earlier', when: trims, repeats: true, run: () => hands.nudge({ out: -1 }) },
    { id: 'picks.out-later', contrary: 'picks.out-earlier', label: 'Out one frame later', when: trims, repeats: true, run: () => hands.nudge({ out: 1 }) },
    { id: 'picks.note', label: 'Write or draw a note on this frame of the take', when: () => film.can('notes.write') && player() !== null, run: hands.write },
    { id: 'picks.find-select', label: 'Offer another select', when: () => film.can('offers.edit'), run: hands.findSelect },
    { id: 'picks.next', contrary: 'picks.previous', label: 'Next slot', run: hands.next },
    { id: 'picks.previous', contrary: 'picks.next', label: 'Slot before', run: hands.previous },
    { id: 'picks.undecided', label: 'Next slot that waits for a verdict', run: hands.undecided },
    { id: 'hands.show', label: 'Show what each control does', run: hands.showHands },
  ];
  const release = registerActions(actions);
  const forget = bindings.suggest(CONTROLS);
  return () => {
    release();
    forget();
  };
}
