import type { Waiting } from '#contract/ledger';
import type { Rate } from '#core/rate.ts';
import { formatDuration } from '#core/timecode.ts';
import { roomAddress } from '../app/address.ts';

/** What is picked against what was planned, in words: "0:52 of 1:00, 0:08 short". */
export function lengthWords(picked: number, target: number, rate: Rate): string {
  const text = (frames: number) => formatDuration(frames, rate);
  const off = picked - target;
  // Less than half a second does not show in either length.
  const close = Math.abs(off) * rate.den * 2 < rate.num;
  // What is missing is told of the lengths as they are written, so that the three add up.
  const seconds = (frames: number) => Math.round((frames * rate.den) / rate.num);
  const told = Math.max(1, Math.abs(seconds(picked) - seconds(target)));
  const amount = text(Math.round((told * rate.num) / rate.den));
  return `${text(picked)} of ${text(target)}, ${close ? 'as planned' : off < 0 ? `${amount} short` : `${amount} over`}`;
}

/** Seconds as people say them: "40 seconds", "12 minutes", "1 hour 5 minutes". */
export function secondsWords(seconds: number): string {
  if (seconds < 59.5) return counted(Math.round(seconds), 'second');
  const minutes = Math.round(seconds / 60);
  const hours = Math.floor(minutes / 60);
  const rest = minutes % 60;
  return [hours && counted(hours, 'hour'), (rest || !hours) && counted(rest, 'minute')].filter(Boolean).join(' ');
}

/** "1 clip", "3 clips". */
export function counted(n: number, word: string): string {
  return `${n} ${word}${n === 1 ? '' : 's'}`;
}

/** What kind of thing waits, as the line begins. */
export const WAITING_WORDS: Record<Waiting['kind'], string> = {
  verdict: 'Verdict',
  note: 'Note to you',
  unseen: 'To watch',
  'empty-slot': 'Empty slot',
  'failed-clip': 'No proxy',
};

/** Where it can be seen to: the slot in the picks, the clip in the sweep at its frame, a failed clip among the footage. */
export function addressOf(film: string, { kind, slotId, clipId, frame }: Waiting): string | null {
  if (kind === 'failed-clip') return roomAddress(film, 'footage');
  if (slotId) return roomAddress(film, 'picks', { subject: slotId, frame: frame ?? null });
  return clipId ? roomAddress(film, 'sweep', { subject: clipId, frame: frame ?? null }) : null;
}
