// OpenTimelineIO JSON, by the schemas of its 0.15 to 0.18 (shared/facts/vectors.md, 2): the string-out, and all selects by
// day and camera. Times of a source are on its own timecode clock at its own rate; the film's are at the film's.
import { millisToFrames, type Rate } from '#core/rate.ts';
import type { FrameRange } from '#core/range.ts';
import { sourceRange, type InputNote, type Source, type TurnoverInput } from '../input.ts';

type Json = { [key: string]: unknown };

const time = (value: number, { num, den }: Rate): Json => ({ OTIO_SCHEMA: 'RationalTime.1', value, rate: num / den });
const span = (first: number, frames: number, rate: Rate, lasts: Rate = rate): Json => ({ OTIO_SCHEMA: 'TimeRange.1', start_time: time(first, rate), duration: time(frames, lasts) });
const ours = (of: Json): Json => ({ rushlight: of });
const composed = { source_range: null, effects: [], markers: [], enabled: true, color: null };

/** @param start frame of the film's timecode clock at which the film begins */
export function stringOutOtio(input: TurnoverInput, start: number): string {
  const { film, shots, track, at, seq } = input;
  const children = shots.map((shot) => {
    const frames = shot.film.outExclusive - shot.film.in;
    const about = ours({ slot: shot.name, number: shot.label, sequence: shot.sequence, state: shot.take ? (shot.take.approved ? 'approved' : 'offered') : 'empty', line: shot.lineId });
    if (!shot.take) return { OTIO_SCHEMA: 'Gap.1', name: shot.name, metadata: about, ...composed, source_range: span(0, frames, film.rate) };
    const { source, range, offerId } = shot.take;
    return clip(source, `${shot.label} ${shot.name}`, about, span(sourceRange(source, range).in, frames, source.rate, film.rate), markersOf(input.notes.filter(({ about: on, settled }) => on === offerId && !settled), source));
  });
  // Every beat as a marker would bury the rest; they are all in marks.vtt.
  const marks = (track?.marks ?? []).filter(({ kind }) => kind !== 'beat').map(({ atMs, toMs, kind, name }) => {
    const first = millisToFrames(atMs, film.rate);
    return marker(name || kind, '', 'YELLOW', span(first, toMs === null ? 0 : millisToFrames(toMs, film.rate) - first, film.rate), { kind });
  });
  const picture = { OTIO_SCHEMA: 'Track.1', name: 'Picture', metadata: {}, ...composed, markers: marks, kind: 'Video', children };
  return text(timeline(film.title, ours({ film: film.id, event: seq, at, drop: film.drop }), time(start, film.rate), [picture]));
}

/** A timeline for each shoot day and camera: its selects one after the other. */
export function selectsOtio({ selects, notes, film, seq, at }: TurnoverInput): string {
  const groups = Map.groupBy(selects, ({ source }) => `${source.clip.shootDay ?? 'no day'} ${source.clip.camera || 'no camera'}`);
  const children = [...groups].map(([name, group]) =>
    timeline(name, {}, null, [
      {
        ...{ OTIO_SCHEMA: 'Track.1', name: 'Selects', metadata: {}, ...composed, kind: 'Video' },
        children: group.map(({ source, range, label, circled }) => {
          const on = notes.filter((note) => note.clipId === source.clip.id && note.on === 'clip' && !note.settled && note.range && note.range.in < range.outExclusive && range.in < note.range.outExclusive);
          return clip(source, label || source.clip.name, ours({ circled }), span(sourceRange(source, range).in, range.outExclusive - range.in, source.rate), markersOf(on, source));
        }),
      },
    ]),
  );
  return text({ OTIO_SCHEMA: 'SerializableCollection.1', name: `${film.title}: selects`, metadata: ours({ film: film.id, event: seq, at }), children });
}

const timeline = (name: string, metadata: Json, start: Json | null, tracks: Json[]): Json => ({
  ...{ OTIO_SCHEMA: 'Timeline.1', name, metadata, global_start_time: start },
  tracks: { OTIO_SCHEMA: 'Stack.1', name: 'tracks', metadata: {}, ...composed, children: tracks },
});

function clip(source: Source, name: string, metadata: Json, range: Json, markers: Json[]): Json {
  return { OTIO_SCHEMA: 'Clip.2', name, metadata, ...composed, source_range: range, markers, media_references: { DEFAULT_MEDIA: reference(source) }, active_media_reference_key: 'DEFAULT_MEDIA' };
}

function reference(source: Source): Json {
  const { original, name, path, card, reel, frames, clip: own, startFrame, rate } = source;
  const available = frames === null ? null : span(startFrame, frames, rate);
  const about = ours({ clip: own.name, card, reel, original });
  if (original === 'unknown') return { OTIO_SCHEMA: 'MissingReference.1', name, metadata: about, available_range: available, available_image_bounds: null };
  const url = [card, ...path.split(/[/\\]/)].filter(Boolean).map(encodeURIComponent).join('/');
  return { OTIO_SCHEMA: 'ExternalReference.1', name, metadata: about, available_range: available, available_image_bounds: null, target_url: url };
}

/** On a clip a marker lies in the time of its source. */
const markersOf = (notes: readonly InputNote[], source: Source): Json[] =>
  notes.flatMap(({ text: words, author, range }) => (range ? [marker(author, words, 'BLUE', lying(sourceRange(source, range), source.rate), { note: true })] : []));
const lying = ({ in: first, outExclusive }: FrameRange, rate: Rate): Json => span(first, outExclusive - first, rate);
const marker = (name: string, comment: string, color: string, marked: Json, about: Json): Json => ({ OTIO_SCHEMA: 'Marker.2', name, metadata: ours(about), comment, color, marked_range: marked });

const text = (of: Json): string => `${JSON.stringify(of, null, 2)}\n`;
