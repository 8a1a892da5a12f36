// OpenTimelineIO JSON. Schemas and fields: AcademySoftwareFoundation/OpenTimelineIO v0.18.1, CORE_VERSION_MAP.cpp and
// docs/tutorials/otio-serialized-schema-only-fields.md. Marker is written as version 2, which newer readers upgrade.
import type { FrameRange } from '#core/range.ts';
import { framesToMillis, millisToFrames, rateText, type Rate } from '#core/rate.ts';
import type { InputNote, InputTrack, TurnoverFile, TurnoverInput } from '../input.ts';
import { available, filmStart, inSource, isMeasured, sourceLabel, sourceOf, type MeasuredClip, type Source } from '../source.ts';
import { filmLength, lineName, noteText, placed, type Placed, type PlacedTake } from './placed.ts';

type Node = { readonly OTIO_SCHEMA: string; readonly [field: string]: unknown };

/** Names of the colours that Marker.2 knows, one for each of our kinds. Kinds are told by name as well. */
const COLOURS = { note: 'BLUE', settled: 'WHITE', beat: 'CYAN', hit: 'ORANGE', build: 'GREEN', turn: 'YELLOW', named: 'MAGENTA' } as const;

const time = (value: number, { num, den }: Rate): Node => ({ OTIO_SCHEMA: 'RationalTime.1', rate: num / den, value });
/** A beginning in one rate and a length in another, which the schema allows. */
const timeRange = (start: number, startRate: Rate, length: number, lengthRate: Rate): Node => ({ OTIO_SCHEMA: 'TimeRange.1', duration: time(length, lengthRate), start_time: time(start, startRate) });
const rangeAt = (range: FrameRange, rate: Rate): Node => timeRange(range.in, rate, range.outExclusive - range.in, rate);
const rates = ({ num, den }: Rate) => ({ num, den });

interface Item {
  name: string;
  source_range: Node;
  metadata: object;
  markers?: Node[];
}

const item = (schema: string, { name, source_range, metadata, markers = [] }: Item): Node => ({ OTIO_SCHEMA: schema, metadata: { rushlight: metadata }, name, source_range, effects: [], markers, enabled: true, color: null });
const gap = (given: Item): Node => item('Gap.1', given);
const clip = (given: Item, media: Node): Node => ({ ...item('Clip.2', given), media_references: { DEFAULT_MEDIA: media }, active_media_reference_key: 'DEFAULT_MEDIA' });
const composition = (schema: 'Stack.1' | 'Track.1', name: string, children: readonly Node[], more: object = {}): Node => ({
  ...{ OTIO_SCHEMA: schema, metadata: {}, name, source_range: null, effects: [], markers: [], enabled: true, color: null, children },
  ...more,
});
const track = (name: string, kind: 'Video' | 'Audio', children: readonly Node[]): Node => composition('Track.1', name, children, { kind });

function timeline(input: TurnoverInput, name: string, tracks: readonly Node[], start: Node | null): Node {
  const { id, title, rate, drop, invented, seq, at } = input.film;
  return { OTIO_SCHEMA: 'Timeline.1', metadata: { rushlight: { film: id, title, invented, event: seq, at, rate: rates(rate), dropFrame: drop } }, name, global_start_time: start, tracks: composition('Stack.1', 'tracks', tracks) };
}

const fileOf = (name: string, root: Node): TurnoverFile => ({ name, type: 'application/vnd.pixar.opentimelineio+json; charset=utf-8', text: `${JSON.stringify(root, null, 2)}\n` });

/** Folders and names as a relative address (RFC 3986), so that whoever has the cards beside the file finds them. */
const addressOf = ({ card, path }: Source): string => [...(card ? [card] : []), ...path.split(/[/\\]/)].map(encodeURIComponent).join('/');

function mediaOf(source: Source, of: MeasuredClip): Node {
  const { name, card, reel, rate, drop, labelled, bytes, xxh64, known } = source;
  const shared = {
    metadata: { rushlight: { clip: of.name, card, reel, timecode: labelled ? sourceLabel(source.startFrame, source) : null, rate: rates(rate), dropFrame: drop, bytes, xxh64, variableRate: of.variableRate } },
    name,
    available_range: rangeAt(available(source, of), rate),
    available_image_bounds: null,
  };
  return known === 'unmatched' ? { OTIO_SCHEMA: 'MissingReference.1', ...shared } : { OTIO_SCHEMA: 'ExternalReference.1', ...shared, target_url: addressOf(source) };
}

function noteMarker(note: InputNote, source: Source, start: number): Node {
  const range = note.range ? inSource(source, note.range) : { in: start, outExclusive: start + 1 };
  return {
    OTIO_SCHEMA: 'Marker.2',
    metadata: { rushlight: { kind: 'note', note: note.id, on: note.slotId ? 'slot' : note.offerId ? 'offer' : 'clip', by: note.by, at: note.at, settled: note.settled } },
    name: note.settled ? `Note, settled (${note.by})` : `Note (${note.by})`,
    color: note.settled ? COLOURS.settled : COLOURS.note,
    comment: noteText(note),
    marked_range: rangeAt(range, source.rate),
  };
}

/** The film as it stands: the picture, the production sound that goes with it, and the locked track with its marks. */
export function stringOutOtio(input: TurnoverInput): TurnoverFile {
  const all = placed(input);
  const picture = all.map((one) => (one.take ? takeClip(one, one.take, input, true) : cardGap(one, input)));
  const sound = all.map((one) => (one.take && one.take.clip.audioChannels > 0 ? takeClip(one, one.take, input, false) : cardGap({ ...one, notes: [] }, input)));
  const tracks = [track('Picture', 'Video', picture), track('Production sound', 'Audio', sound), ...(input.track && filmLength(input) > 0 ? [track('Music', 'Audio', musicOf(input.track, input))] : [])];
  return fileOf('string-out.otio', timeline(input, input.film.title, tracks, time(filmStart(input), input.film.rate)));
}

function takeClip({ line, film, notes }: Placed, take: PlacedTake, input: TurnoverInput, marked: boolean): Node {
  const { source, clip: of, offer, approved } = take;
  return clip(
    {
      name: of.name,
      // The length is the film's own, so that every cut lies on a frame of the film whatever the source runs at.
      source_range: timeRange(take.inSource.in, source.rate, film.outExclusive - film.in, input.film.rate),
      metadata: { slot: line.id, number: line.label, slotName: line.name, offer: offer.id, select: offer.selectId, clip: of.id, in: take.range.in, outExclusive: take.range.outExclusive, clipRate: rates(of.rate), approved },
      markers: marked ? notes.map((note) => noteMarker(note, source, take.inSource.in)) : [],
    },
    mediaOf(source, of),
  );
}

function cardGap({ line, film, notes }: Placed, input: TurnoverInput): Node {
  const { rate } = input.film;
  return gap({
    name: lineName(line),
    source_range: timeRange(0, rate, film.outExclusive - film.in, rate),
    metadata: { slot: line.id, number: line.label, slotName: line.name, mustShow: line.mustShow },
    markers: notes.map((note) => ({
      ...{ OTIO_SCHEMA: 'Marker.2', metadata: { rushlight: { kind: 'note', note: note.id, on: 'slot', by: note.by, at: note.at, settled: note.settled } }, name: note.settled ? `Note, settled (${note.by})` : `Note (${note.by})` },
      ...{ color: note.settled ? COLOURS.settled : COLOURS.note, comment: noteText(note), marked_range: timeRange(0, rate, 1, rate) },
    })),
  });
}

/** The track from the beginning of the film on, with its marks in its own time; then nothing, where the film is longer. */
function musicOf({ title, name, maker, licence, rights, bytes, xxh64, lengthMs, marks }: InputTrack, input: TurnoverInput): Node[] {
  const { rate } = input.film;
  const film = filmLength(input);
  // Down to whole frames of what there is.
  let whole = lengthMs === null ? film : millisToFrames(lengthMs, rate);
  if (lengthMs !== null && framesToMillis(whole, rate) > lengthMs) whole -= 1;
  const plays = Math.min(whole, film);
  const media = { OTIO_SCHEMA: 'ExternalReference.1', metadata: { rushlight: { title, maker, licence, rights, bytes, xxh64, lengthMs } }, name, available_range: timeRange(0, rate, whole, rate), available_image_bounds: null, target_url: encodeURIComponent(name) };
  const markers = marks.map(({ id, kind, atMs, untilMs, name: called }) => {
    const at = millisToFrames(atMs, rate);
    return {
      OTIO_SCHEMA: 'Marker.2',
      metadata: { rushlight: { kind, mark: id, atMs, untilMs } },
      name: called || kind,
      color: COLOURS[kind],
      comment: called ? kind : '',
      marked_range: timeRange(at, rate, Math.max(1, untilMs === null ? 1 : millisToFrames(untilMs, rate) - at), rate),
    };
  });
  const played = plays > 0 ? [clip({ name: title, source_range: timeRange(0, rate, plays, rate), metadata: { track: title }, markers }, media)] : [];
  return film > plays ? [...played, gap({ name: '', source_range: timeRange(0, rate, film - plays, rate), metadata: {} })] : played;
}

/** All selects, a track for each camera of each shoot day, in the order of the footage. */
export function selectsOtio(input: TurnoverInput): TurnoverFile {
  const clipById = new Map(input.clips.map((of) => [of.id, of]));
  const notesOf = Map.groupBy(input.notes, ({ clipId }) => clipId);
  const byTrack = Map.groupBy(input.selects, ({ clipId }) => {
    const { shootDay, camera } = clipById.get(clipId)!;
    return `${shootDay ?? 'No day'}, ${camera ? `camera ${camera}` : 'no camera'}`;
  });
  const tracks = [...byTrack].map(([name, selects]) =>
    track(
      name,
      'Video',
      selects.flatMap((select) => {
        const of = clipById.get(select.clipId)!;
        if (!isMeasured(of)) return [];
        const source = sourceOf(of);
        const range = inSource(source, select);
        const notes = (notesOf.get(of.id) ?? []).filter(({ range: on }) => !on || (on.in < select.outExclusive && select.in < on.outExclusive));
        const { id, circled, label, by, at } = select;
        const metadata = { select: id, clip: of.id, in: select.in, outExclusive: select.outExclusive, clipRate: rates(of.rate), circled, label, by, at, shootDay: of.shootDay, camera: of.camera, location: of.location, rateText: rateText(of.rate) };
        return [clip({ name: label ? `${of.name}: ${label}` : of.name, source_range: rangeAt(range, source.rate), metadata, markers: notes.map((note) => noteMarker(note, source, range.in)) }, mediaOf(source, of))];
      }),
    ),
  );
  return fileOf('selects.otio', timeline(input, `${input.film.title}: selects`, tracks, null));
}
