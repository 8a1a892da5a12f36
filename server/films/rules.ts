import { canDrop } from '#core/timecode.ts';
import { RATES } from '#core/rate.ts';
import { Refusal } from '../platform/errors.ts';

/** A film is delivered at a standard rate; drop-frame counting exists at two of them only. */
export function checkFilmRate(rate: { num: number; den: number }, dropFrame: boolean): void {
  if (!RATES.some((known) => known.num === rate.num && known.den === rate.den))
    throw new Refusal('bad-input', `rate ${rate.num}/${rate.den} is not a delivered rate; say 24000/1001, 24/1, 25/1, 30000/1001, 50/1 or 60000/1001, for example.`, {
      fields: [{ field: 'rate', why: 'is not one of the standard rates' }],
    });
  if (dropFrame && !canDrop(rate))
    throw new Refusal('bad-input', 'dropFrame is only for 30000/1001 and 60000/1001.', { fields: [{ field: 'dropFrame', why: 'does not exist at this rate' }] });
}
