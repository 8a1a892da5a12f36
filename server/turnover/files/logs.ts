// Logs as tables: clips, selects, picks, notes, and the list of originals to be pulled.
import { framesToMillis, rateText, type Rate } from '#core/rate.ts';
import { formatTimecode } from '#core/timecode.ts';
import { sourceRange, type Source, type TurnoverInput } from '../input.ts';
import { csv } from './csv.ts';

const label = (frame: number, rate: Rate, drop: boolean): string => formatTimecode(frame, rate, { drop });
const sourceLabel = (source: Source, frame: number): string => label(frame, source.rate, source.drop);
const seconds = (frames: number, rate: Rate): string => (framesToMillis(frames, rate) / 1000).toFixed(3);
const originalWords = { matched: 'matched', own: 'is the original', unknown: 'not known' };

export const clipsCsv = ({ sources }: TurnoverInput): string =>
  csv(
    ['name', 'day', 'camera', 'card', 'reel', 'location', 'rate', 'frames', 'start timecode', 'seconds', 'original', 'original path', 'original card', 'put aside'],
    sources.map((source) => {
      const { clip, path, card, original } = source;
      return [clip.name, clip.shootDay, clip.camera, clip.card, clip.reel, clip.location, rateText(clip.rate!), clip.frames, label(clip.startFrame, clip.rate!, clip.dropFrame), seconds(clip.frames!, clip.rate!), originalWords[original], original === 'unknown' ? null : path, original === 'unknown' ? null : card, clip.aside?.reason ?? null];
    }),
  );

export const selectsCsv = ({ selects }: TurnoverInput): string =>
  csv(
    ['clip', 'day', 'camera', 'words', 'circled', 'source in', 'source out', 'frames', 'clip in', 'clip out'],
    selects.map(({ source, range, label: words, circled }) => {
      const lies = sourceRange(source, range);
      return [source.clip.name, source.clip.shootDay, source.clip.camera, words, circled, sourceLabel(source, lies.in), sourceLabel(source, lies.outExclusive), range.outExclusive - range.in, range.in, range.outExclusive];
    }),
  );

export const picksCsv = ({ shots, film }: TurnoverInput, start: number): string =>
  csv(
    ['number', 'sequence', 'slot', 'must show', 'state', 'clip', 'source in', 'source out', 'record in', 'record out', 'frames'],
    shots.map(({ label: number, sequence, name, mustShow, take, film: lies }) => {
      const on = take && sourceRange(take.source, take.range);
      return [
        ...[number, sequence, name, mustShow, take ? (take.approved ? 'approved' : 'offered') : 'empty', take?.source.clip.name ?? null],
        ...[on && take ? sourceLabel(take.source, on.in) : null, on && take ? sourceLabel(take.source, on.outExclusive) : null],
        ...[label(start + lies.in, film.rate, film.drop), label(start + lies.outExclusive, film.rate, film.drop), lies.outExclusive - lies.in],
      ];
    }),
  );

export function notesCsv({ notes, shots, sources }: TurnoverInput): string {
  const clipOf = new Map(sources.map((source) => [source.clip.id, source]));
  return csv(
    ['on', 'slot', 'clip', 'clip timecode', 'last frame', 'note', 'by', 'written', 'settled'],
    notes.map(({ on, about, clipId, range, text, author, writtenAt, settled }) => {
      const source = clipId === null ? undefined : clipOf.get(clipId);
      const shot = shots.find(({ lineId, take }) => lineId === about || take?.offerId === about);
      const at = (frame: number): string | null => (source ? label(source.clip.startFrame + frame, source.clip.rate!, source.clip.dropFrame) : null);
      return [on, shot?.name ?? null, source?.clip.name ?? null, range && at(range.in), range && at(range.outExclusive - 1), text, author, writtenAt, settled];
    }),
  );
}

/** What has to be fetched from the camera originals, a row a file: all that plays of it, with handles. */
export function pullCsv({ shots }: TurnoverInput, handles: number): string {
  const bySource = new Map<Source, { in: number; outExclusive: number; shots: string[] }>();
  for (const { take, label: number } of shots) {
    if (!take) continue;
    const { source, range } = take;
    const known = bySource.get(source);
    const wide = { in: Math.max(0, range.in - handles), outExclusive: Math.min(source.clip.frames!, range.outExclusive + handles) };
    bySource.set(source, { in: Math.min(known?.in ?? Infinity, wide.in), outExclusive: Math.max(known?.outExclusive ?? 0, wide.outExclusive), shots: [...(known?.shots ?? []), number] });
  }
  return csv(
    ['file', 'path', 'card', 'reel', 'rate', 'from', 'to', 'frames', 'bytes', 'xxh64', 'shots', 'is the original'],
    [...bySource].map(([source, { in: first, outExclusive, shots: numbers }]) => {
      const lies = sourceRange(source, { in: first, outExclusive });
      const own = source.original !== 'matched';
      return [source.name, source.path, source.card, source.reel, rateText(source.rate), sourceLabel(source, lies.in), sourceLabel(source, lies.outExclusive), outExclusive - first, own ? source.clip.bytes : null, own ? source.clip.xxh64 : null, numbers.join(' '), originalWords[source.original]];
    }),
  );
}
