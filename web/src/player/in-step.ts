// Takes playing side by side. States: cueing (each goes to its in) -> running -> over.
//   running: all began in one turn; whoever falls behind or runs ahead of the leader is leaned back, and a take that is
//            shorter rests on its last frame
//   over:    the longest has ended, or somebody did something else with one of them: then all rest, at the same moment
import { frameStartSeconds } from '#core/rate.ts';
import type { FrameRange } from '#core/range.ts';
import type { FramePlayer } from './player.svelte.ts';

export interface Take {
  player: FramePlayer;
  range: FrameRange;
}

/** A drift of a tenth of a second is leaned back by two tenths of the speed; never by more than MOST. */
const LEAN_PER_SECOND = 2;
const MOST = 0.3;

/**
 * Plays takes from their ins, together until the longest ends or one of them is stopped.
 * @param leader the one that is heard: the others are held to it, so that its sound stays even.
 * @param signal ends it without touching the players, because something else begins with them.
 * @returns once it is over.
 */
export async function playInStep(takes: readonly Take[], leader: FramePlayer | null, signal: AbortSignal): Promise<void> {
  const frames = await Promise.all(takes.map(({ player, range }) => player.cue(range.in)));
  // Somebody went elsewhere meanwhile.
  if (signal.aborted || takes.some(({ player, range }, n) => frames[n] !== range.in || player.frame !== range.in)) return;
  const limits = takes.map(({ player }) => player.range);
  const unlimit = () => takes.forEach(({ player }, n) => (player.range = limits[n] ?? null));
  signal.addEventListener('abort', unlimit);
  for (const { player, range } of takes) player.range = range;
  for (const { player } of takes) void player.play();
  const lead = () => takes.find(({ player }) => player === leader && player.playing) ?? longest(takes.filter(({ player }) => player.playing));
  for (let now = lead(); now && !signal.aborted && takes.every((take) => isIn(take)); now = lead()) {
    for (const take of takes) take.player.lean(take === now ? 1 : leanOf(elapsed(now) - elapsed(take)));
    await new Promise((painted) => requestAnimationFrame(painted));
  }
  if (signal.aborted) return;
  await rest(takes, takes.find((take) => !isIn(take)) ?? null);
  signal.removeEventListener('abort', unlimit);
  if (!signal.aborted) unlimit();
}

/** How fast to play, given by how many seconds the leader is ahead. */
export function leanOf(behind: number): number {
  return 1 + Math.max(-MOST, Math.min(MOST, behind * LEAN_PER_SECOND));
}

/** Whether a take plays as it was begun, or has come to its end. */
function isIn({ player, range }: Take): boolean {
  return player.playing ? player.speed === 1 && player.loop === null : player.frame >= range.outExclusive - 1;
}

/** Seconds since the in of a take. */
function elapsed({ player, range }: Take): number {
  return player.seconds - frameStartSeconds(range.in, player.rate);
}

/** All stop. Where one was stopped by hand, the others go to the moment it shows. */
async function rest(takes: readonly Take[], stopped: Take | null): Promise<void> {
  const moment = stopped && !stopped.player.playing ? ((await stopped.player.pause()) - stopped.range.in) / framesPerSecond(stopped.player) : null;
  const others = takes.filter((take) => take !== stopped && (take.player.playing || moment !== null));
  await Promise.all(
    others.map(({ player, range }) =>
      moment === null ? player.pause() : player.seek(Math.min(range.outExclusive - 1, range.in + Math.floor(moment * framesPerSecond(player) + 1e-6))),
    ),
  );
}

const framesPerSecond = ({ rate }: FramePlayer): number => rate.num / rate.den;

function longest(takes: readonly Take[]): Take | undefined {
  const left = ({ player, range }: Take) => frameStartSeconds(range.outExclusive, player.rate) - player.seconds;
  return takes.toSorted((a, b) => left(b) - left(a))[0];
}
