import type { Clip } from '#contract/footage';
import type { Clock } from '#core/timecode.ts';

/** What the timecode of a clip counts on, or null while the clip is not measured. */
export function clockOf(clip: Clip): Clock | null {
  return clip.rate && { rate: clip.rate, startFrame: clip.startFrame, drop: clip.dropFrame };
}

const DAY = new Intl.DateTimeFormat('en-GB', { weekday: 'short', day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' });
const MOMENT = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', hour: '2-digit', minute: '2-digit' });

/** A shoot day (YYYY-MM-DD) as people say it: "Tue 3 Mar 2026". */
export function dayText(shootDay: string): string {
  return DAY.format(new Date(`${shootDay}T00:00:00Z`)).replaceAll(',', '');
}

/** A moment (ISO 8601) in the reader's own time zone: "3 Mar, 14:05". */
export function momentText(iso: string): string {
  return MOMENT.format(new Date(iso));
}
