// The film as it stands: what plays for a line, how long it is, and which frame of the clip is on screen.
import { execFileSync } from 'node:child_process';
import { expect, it } from 'vitest';
import { budgetOf } from '#core/budget.ts';
import { outlineOrder } from '#core/outline.ts';
import { rate, type Rate } from '#core/rate.ts';
import { bestOffer, conformedLength, entriesOf, laidOut, shownFrame, stretchAt, type OfferStanding } from '#core/string-out.ts';
import { OPEN } from '#core/wish.ts';

const row = (id: string, kind: 'part' | 'slot', parentId: string | null, seconds = 0) => ({
  id,
  kind,
  parentId,
  orderKey: id,
  wish: seconds ? ({ kind: 'fixed', frames: seconds * 25 } as const) : OPEN,
  fitted: null,
});
const offer = (id: string, slotId: string, verdict: OfferStanding['verdict'], more: Partial<OfferStanding> = {}): OfferStanding => ({
  id, slotId, clipId: 'clip', in: 10, outExclusive: 60, orderKey: id, verdict, ...more,
});

it('plays the pick, else what is held, else what is open, never what was passed or taken back', () => {
  const [open, held, passed, pick] = [offer('1', 's', 'open'), offer('2', 's', 'hold'), offer('0', 's', 'pass'), offer('3', 's', 'approve')];
  expect(bestOffer([open, held, passed, pick])?.id).toBe('3');
  expect(bestOffer([passed, open, held])?.id).toBe('2');
  expect(bestOffer([offer('9', 's', 'open'), open])?.id).toBe('1');
  expect(bestOffer([passed, { ...held, removedAt: '2026-01-01' }])).toBeNull();
});

it('lays every line with nothing inside it one after the other, takes at their trim and cards at their budget', () => {
  const lines = outlineOrder([row('a', 'part', null), row('a1', 'slot', 'a', 4), row('a2', 'slot', 'a', 2), row('b', 'part', null, 3)]);
  const entries = entriesOf(lines, [offer('1', 'a1', 'approve'), offer('2', 'a2', 'open')], budgetOf(lines, 9 * 25, rate(25)));
  const laid = laidOut(entries, () => rate(25), rate(25));
  expect(laid.map(({ lineId, take, film }) => [lineId, take?.offerId ?? null, film.in, film.outExclusive])).toEqual([
    ['a1', '1', 0, 50],
    ['a2', '2', 50, 100],
    ['b', null, 100, 175],
  ]);
  expect([0, 49, 50, 174, 175].map((frame) => stretchAt(laid, frame))).toEqual([0, 0, 1, 2, -1]);
});

it('shows the same frame at the same rate', () => {
  for (let k = 0; k < 50; k++) expect(shownFrame(k, { in: 10, outExclusive: 60 }, rate(30000, 1001), rate(30000, 1001))).toBe(10 + k);
});

// Source: ffmpeg's own `fps` filter with round=near, asked which frame it lets through.
const PAIRS: [Rate, Rate][] = [
  [rate(50), rate(25)], [rate(25), rate(50)], [rate(24), rate(25)], [rate(25), rate(24)], [rate(24000, 1001), rate(25)],
  [rate(30000, 1001), rate(25)], [rate(25), rate(30000, 1001)], [rate(60000, 1001), rate(24000, 1001)], [rate(24), rate(60)], [rate(24000, 1001), rate(24)],
];
it.each(PAIRS)('conforms %o to %o as ffmpeg does', (clip, film) => {
  const range = { in: 0, outExclusive: 700 };
  const length = conformedLength(range, clip, film);
  const frames = shown(clip, film, range.outExclusive);
  const ours = Array.from({ length }, (_, k) => shownFrame(k, range, clip, film));
  expect(ours).toEqual(Array.from({ length }, (_, k) => frames[k] ?? range.outExclusive - 1));
  expect(Math.max(...ours)).toBeLessThan(range.outExclusive);
});

/** Frame k of what ffmpeg makes, as the number of the source frame in it: each is one grey pixel, its number in two parts. */
function shown(clip: Rate, film: Rate, count: number): number[] {
  const graph = `color=black:s=2x1:r=${clip.num}/${clip.den},trim=end_frame=${count},format=gray,geq=lum='if(X,mod(N,256),floor(N/256))',fps=${film.num}/${film.den}:round=near`;
  const raw = execFileSync('ffmpeg', ['-v', 'error', '-f', 'lavfi', '-i', graph, '-f', 'rawvideo', '-pix_fmt', 'gray', '-']);
  return Array.from({ length: raw.length / 2 }, (_, k) => raw[2 * k]! * 256 + raw[2 * k + 1]!);
}
