import type { ClockPreview } from '#contract/footage';

/** A clip's time on the clocks of the place: "2026-05-31 00:30:05". */
export function placeTime(iso: string, zone: number | null): string {
  return `${new Date(Date.parse(iso) + (zone ?? 0) * 60_000).toISOString().slice(0, 19).replace('T', ' ')}${zone === null ? ' UTC' : ''}`;
}

/** How far a clock is off, in words. */
export function clockWords({ offsetMs, driftPpm }: Pick<ClockPreview, 'offsetMs' | 'driftPpm'>): string {
  const seconds = Math.round(Math.abs(offsetMs) / 1000);
  const [days, hours, minutes] = [Math.floor(seconds / 86_400), Math.floor(seconds / 3600) % 24, Math.floor(seconds / 60) % 60];
  const parts = [days ? `${days} ${days === 1 ? 'day' : 'days'}` : '', hours ? `${hours} h` : '', minutes ? `${minutes} min` : '', seconds % 60 || !seconds ? `${seconds % 60} s` : ''].filter(Boolean).join(' ');
  const offset = seconds === 0 ? 'The clock is right to the second' : `The clock is ${parts} ${offsetMs > 0 ? 'behind' : 'ahead'}`;
  const drift = driftPpm === 0 ? '' : `, and ${driftPpm > 0 ? 'loses' : 'gains'} ${((Math.abs(driftPpm) * 86_400) / 1_000_000).toFixed(1)} s a day`;
  return `${offset}${drift}.`;
}

/** Offsets of the world's clocks in minutes east of UTC (IANA time zone database: quarters of an hour occur). */
export const ZONES: readonly { value: string; label: string }[] = [
  { value: '', label: 'as each clip noted' },
  ...Array.from({ length: (14 + 12) * 4 + 1 }, (_, n) => n * 15 - 12 * 60)
    .filter((minutes) => minutes % 60 === 0 || [-570, -210, 210, 270, 330, 345, 390, 525, 570, 630, 765].includes(minutes))
    .map((minutes) => ({ value: String(minutes), label: zoneText(minutes) })),
];

function zoneText(minutes: number): string {
  const size = Math.abs(minutes);
  return `UTC${minutes < 0 ? '−' : '+'}${Math.floor(size / 60)}:${String(size % 60).padStart(2, '0')}`;
}
