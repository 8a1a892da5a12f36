import type { Clip } from '#contract/footage';
import { nominal } from '#core/rate.ts';

/** Address of a file of a clip's proxy, such as `master.m3u8` or `peaks.json`. */
export function mediaUrl(filmId: string, clipId: string, version: string, file: string): string {
  return `/api/films/${filmId}/media/${clipId}/${version}/${file}`;
}

/**
 * Address of the still nearest before a frame of the clip, or null while the clip is not measured. Still k (from 0)
 * shows frame k x G, where G is the length of a proxy's group; files count from 1.
 */
export function stillUrl(filmId: string, clip: Clip, version: string | null, frame: number): string | null {
  if (!version || !clip.rate || clip.frames === null) return null;
  const last = Math.max(0, clip.frames - 1);
  const still = Math.floor(Math.min(Math.max(0, frame), last) / nominal(clip.rate));
  return mediaUrl(filmId, clip.id, version, `stills/${String(still + 1).padStart(6, '0')}.jpg`);
}
