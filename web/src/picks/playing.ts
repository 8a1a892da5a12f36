import { contains, type FrameRange } from '#core/range.ts';
import type { FramePlayer } from '../player/player.svelte.ts';

/** Plays a take in its trim, again and again; from where it stands when that is inside. */
export async function playTake(player: FramePlayer, range: FrameRange): Promise<void> {
  if (!contains(range, player.frame)) return player.playRange(range);
  player.loop = range;
  await player.play();
}

/** Lets only one of several be heard. */
export function hearOnly(heard: FramePlayer | null, players: Iterable<FramePlayer>): void {
  for (const player of players) if (player.muted === (player === heard)) player.toggleSound();
}
