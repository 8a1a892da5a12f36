import { checkRange, type FrameRange } from '#core/range.ts';
import { Refusal } from '../platform/errors.ts';

/**
 * Refuses a range that is not inside the clip.
 * Throws `clip-not-ready` while the clip has no frames to count on, `bad-range` with the field at fault otherwise.
 */
export function checkInClip(range: FrameRange, clip: { frames: number | null }): void {
  if (clip.frames === null) throw new Refusal('clip-not-ready');
  const reason = checkRange(range, clip.frames);
  if (!reason) return;
  const why = `${reason.why} ${reason.expected}`;
  throw new Refusal('bad-range', why, { fields: [{ field: reason.field, why }] });
}
