// Notes and marks on the time of the film, as WebVTT (W3C Candidate Recommendation, 4 April 2019, section 4).
import { framesToMillis } from '#core/rate.ts';
import { conformedLength } from '#core/string-out.ts';
import type { TurnoverInput } from '../input.ts';

interface Cue {
  fromMs: number;
  toMs: number;
  text: string;
}
/** So long a cue of one moment is read. */
const MOMENT_MS = 2000;

export function notesVtt({ notes, shots, film }: TurnoverInput): string {
  const cues = shots.flatMap(({ film: lies, take, lineId, name }) =>
    notes
      .filter(({ about, settled }) => !settled && (about === lineId || about === take?.offerId))
      .flatMap(({ text, author, range }): Cue[] => {
        const inTake = range && take ? { in: Math.max(range.in, take.range.in), outExclusive: Math.min(range.outExclusive, take.range.outExclusive) } : null;
        // A note on a frame that the trim has cut away is on nothing that plays.
        if (inTake && inTake.in >= inTake.outExclusive) return [];
        const clip = take?.source.clip.rate ?? film.rate;
        const from = inTake && take ? lies.in + (inTake.in > take.range.in ? conformedLength({ in: take.range.in, outExclusive: inTake.in }, clip, film.rate) : 0) : lies.in;
        const to = inTake ? Math.min(lies.outExclusive, from + conformedLength(inTake, clip, film.rate)) : lies.outExclusive;
        return [{ fromMs: framesToMillis(from, film.rate), toMs: framesToMillis(Math.max(to, from + 1), film.rate), text: `${name}\n${author}: ${text}` }];
      }),
  );
  return vtt(cues);
}

export function marksVtt({ track }: TurnoverInput): string {
  return vtt((track?.marks ?? []).map(({ atMs, toMs, kind, name }) => ({ fromMs: atMs, toMs: toMs === null || toMs <= atMs ? atMs + MOMENT_MS : toMs, text: name ? `${kind}: ${name}` : kind })));
}

function vtt(cues: readonly Cue[]): string {
  const inOrder = cues.toSorted((a, b) => a.fromMs - b.fromMs || a.toMs - b.toMs);
  return ['WEBVTT', '', ...inOrder.flatMap(({ fromMs, toMs, text }) => [`${clock(fromMs)} --> ${clock(toMs)}`, escaped(text), ''])].join('\n');
}

function clock(ms: number): string {
  const two = (n: number): string => String(Math.floor(n)).padStart(2, '0');
  return `${two(ms / 3_600_000)}:${two((ms / 60_000) % 60)}:${two((ms / 1000) % 60)}.${String(ms % 1000).padStart(3, '0')}`;
}

/** No empty line may stand in a cue, and three characters mean something in it. */
const escaped = (text: string): string => text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('\r', '').replace(/\n\s*\n+/g, '\n');
