import type { FramePlayer } from '../player/player.svelte.ts';
import { bindings } from './hands.svelte.ts';
import type { Action } from './registry.svelte.ts';

/** Share of the full volume that one press changes. */
const LOUDER = 0.1;

/** What can be done with whichever player is in hand. */
export function playerActions(player: () => FramePlayer | null, range: () => { in: number; outExclusive: number } | null): Action[] {
  const when = () => player() !== null;
  const step = (by: () => number) => () => player()?.step(by());
  return [
    { id: 'player.play', label: 'Play or pause', when, run: () => player()?.toggle() },
    { id: 'player.back', contrary: 'player.forward', label: 'Play backward; again for faster', when, run: () => player()?.shuttle(-1) },
    { id: 'player.stop', label: 'Stop', when, run: () => player()?.shuttle(0) },
    { id: 'player.forward', contrary: 'player.back', label: 'Play forward; again for faster', when, run: () => player()?.shuttle(1) },
    { id: 'player.step-back', contrary: 'player.step-forward', label: 'Step one frame back', when, repeats: true, run: step(() => -1) },
    { id: 'player.step-forward', contrary: 'player.step-back', label: 'Step one frame forward', when, repeats: true, run: step(() => 1) },
    { id: 'player.coarse-back', contrary: 'player.coarse-forward', label: 'Take the coarser step back', when, repeats: true, run: step(() => -bindings.coarseStep) },
    { id: 'player.coarse-forward', contrary: 'player.coarse-back', label: 'Take the coarser step forward', when, repeats: true, run: step(() => bindings.coarseStep) },
    { id: 'player.first', label: 'Go to the first frame', when, run: () => player()?.seek(0) },
    { id: 'player.last', label: 'Go to the last frame', when, run: () => player()?.seek(Number.MAX_SAFE_INTEGER) },
    {
      id: 'player.loop',
      label: 'Play from in to out, again and again',
      when: () => when() && range() !== null,
      run: () => {
        const stretch = range();
        if (stretch) return player()?.playRange(stretch);
      },
    },
    { id: 'player.louder', contrary: 'player.softer', label: 'Louder', when, repeats: true, run: () => player()?.setVolume(player()!.volume + LOUDER) },
    { id: 'player.softer', contrary: 'player.louder', label: 'Softer', when, repeats: true, run: () => player()?.setVolume(player()!.volume - LOUDER) },
    { id: 'player.sound', label: 'Sound on or off', when, run: () => player()?.toggleSound() },
  ];
}
