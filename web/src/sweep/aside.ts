import type { Clip } from '#contract/footage';
import type { Fault, FaultKind } from '#core/faults.ts';
import type { FilmState } from '../live/film-state.svelte.ts';
import { say } from '../ui/say.svelte.ts';

export type Reason = NonNullable<Clip['aside']>['reason'];

/** Why there is nothing usable in a clip, in words of the trade (common practice, no source). */
export const REASON_WORDS: Record<Reason, string> = {
  soft: 'soft',
  shaky: 'shaky',
  exposure: 'wrongly exposed',
  sound: 'sound unusable',
  'false-start': 'false start',
  'no-action': 'nothing happens',
  other: 'another reason',
};

const REASON_OF: Partial<Record<FaultKind, Reason>> = { soft: 'soft', shaky: 'shaky', blown: 'exposure', dark: 'exposure', black: 'exposure', frozen: 'other', clipped: 'sound', rumble: 'sound' };
/** A clip shorter than this was hardly meant (common practice, no source). */
const FALSE_START_SECONDS = 3;

/** The reason to begin with: what is wrong in most of the clip, or how short it is; a person says better. */
export function likelyReason(faults: readonly Fault[], frames: number, rate: { num: number; den: number }): Reason {
  const lasting = new Map<Reason, number>();
  for (const { kind, in: first, outExclusive } of faults) {
    const reason = REASON_OF[kind];
    if (reason) lasting.set(reason, (lasting.get(reason) ?? 0) + outExclusive - first);
  }
  const [most] = [...lasting].sort((a, b) => b[1] - a[1]);
  if (most && most[1] > frames / 2) return most[0];
  return (frames * rate.den) / rate.num < FALSE_START_SECONDS ? 'false-start' : 'no-action';
}

/** Puts a clip aside, or says another reason; undo brings back what was said before. */
export function putAside(film: FilmState, clip: Clip, reason: Reason): void {
  const before = clip.aside?.reason ?? null;
  setAside(film, clip, reason);
  say(`${clip.name} put aside: ${REASON_WORDS[reason]}.`, { undo: () => setAside(film, clip, before), again: () => setAside(film, clip, reason) });
}

/** Takes a clip back that was put aside. */
export function takeBack(film: FilmState, clip: Clip): void {
  const reason = clip.aside?.reason;
  if (!reason) return;
  setAside(film, clip, null);
  say(`${clip.name} is looked at again.`, { undo: () => setAside(film, clip, reason), again: () => setAside(film, clip, null) });
}

function setAside({ strokes, mine }: FilmState, { id, name }: Clip, reason: Reason | null): void {
  const aside = reason && { reason, byId: mine.userId, at: new Date().toISOString() };
  strokes.do({ method: reason ? 'PUT' : 'DELETE', path: `/clips/${id}/aside`, ...(reason && { body: { reason } }), words: `Putting ${name} aside`, shows: { table: 'clips', id, fields: { aside } } });
}
