// The logs as tables: clips, selects, picks, notes, rights. Times are timecode of the camera original and of the film.
import { rateText } from '#core/rate.ts';
import type { TurnoverFile, TurnoverInput } from '../input.ts';
import { filmLabel, inSource, isMeasured, sourceLabel, sourceOf } from '../source.ts';
import { csvFile } from './csv.ts';
import { noteInFilm, placed } from './placed.ts';

const KNOWN = { original: 'matched', own: 'the clip itself', unmatched: 'not matched' } as const;

/** Every clip, with its camera original. */
export function clipLog({ clips }: TurnoverInput): TurnoverFile {
  const columns = ['name', 'card', 'camera', 'shoot day', 'location', 'reel', 'rate', 'variable rate', 'start timecode', 'end timecode', 'drop frame', 'frames', 'width', 'height', 'sound channels', 'size', 'xxh64', 'camera original', 'original path', 'original start timecode', 'clip begins at frame', 'put aside'] as const;
  return csvFile(
    'clips.csv',
    columns,
    clips.map((clip) => {
      const source = isMeasured(clip) ? sourceOf(clip) : null;
      const label = (frame: number) => (clip.rate && clip.labelled ? sourceLabel(clip.startFrame + frame, { rate: clip.rate, drop: clip.drop }) : null);
      return {
        name: clip.name,
        card: clip.card,
        camera: clip.camera,
        'shoot day': clip.shootDay,
        location: clip.location,
        reel: clip.reel,
        rate: clip.rate && rateText(clip.rate),
        'variable rate': clip.variableRate,
        'start timecode': label(0),
        'end timecode': clip.frames === null ? null : label(clip.frames),
        'drop frame': clip.drop,
        frames: clip.frames,
        width: clip.width,
        height: clip.height,
        'sound channels': clip.audioChannels,
        size: clip.bytes,
        xxh64: clip.xxh64,
        'camera original': source ? KNOWN[source.known] : null,
        'original path': source?.known === 'original' ? source.path : null,
        'original start timecode': source?.known === 'original' && source.labelled ? sourceLabel(source.startFrame, source) : null,
        'clip begins at frame': source?.known === 'original' ? source.offset : null,
        'put aside': clip.aside,
      };
    }),
  );
}

/** Every select, by day, camera and clip. */
export function selectLog(input: TurnoverInput): TurnoverFile {
  const clipById = new Map(input.clips.map((clip) => [clip.id, clip]));
  const columns = ['clip', 'card', 'camera', 'shoot day', 'reel', 'source file', 'source in', 'source out', 'rate', 'in', 'out', 'frames', 'circled', 'label', 'by', 'made at'] as const;
  return csvFile(
    'selects.csv',
    columns,
    input.selects.flatMap((select) => {
      const clip = clipById.get(select.clipId)!;
      if (!isMeasured(clip)) return [];
      const source = sourceOf(clip);
      const range = inSource(source, select);
      return {
        clip: clip.name,
        card: clip.card,
        camera: clip.camera,
        'shoot day': clip.shootDay,
        reel: source.reel,
        'source file': source.path,
        'source in': sourceLabel(range.in, source),
        'source out': sourceLabel(range.outExclusive, source),
        rate: rateText(source.rate),
        in: select.in,
        out: select.outExclusive,
        frames: select.outExclusive - select.in,
        circled: select.circled,
        label: select.label,
        by: select.by,
        'made at': select.at,
      };
    }),
  );
}

/** What plays, a row a slot; where nothing is approved the best offer, or nothing. */
export function pickLog(input: TurnoverInput): TurnoverFile {
  const columns = ['number', 'sequence', 'slot', 'must show', 'comes in', 'goes out', 'state', 'clip', 'card', 'reel', 'source file', 'source in', 'source out', 'rate', 'record in', 'record out', 'frames', 'planned frames', 'decided by', 'decided at', 'reason', 'cut in'] as const;
  return csvFile(
    'picks.csv',
    columns,
    placed(input).map(({ line, film, take }) => ({
      number: line.label,
      sequence: line.sequence,
      slot: line.name,
      'must show': line.mustShow,
      'comes in': line.comesIn,
      'goes out': line.goesOut,
      state: !take ? 'nothing yet' : take.approved ? 'approved' : 'offered',
      clip: take?.clip.name ?? null,
      card: take?.clip.card ?? null,
      reel: take?.source.reel ?? null,
      'source file': take?.source.path ?? null,
      'source in': take && sourceLabel(take.inSource.in, take.source),
      'source out': take && sourceLabel(take.inSource.outExclusive, take.source),
      rate: take && rateText(take.source.rate),
      'record in': filmLabel(film.in, input),
      'record out': filmLabel(film.outExclusive, input),
      frames: film.outExclusive - film.in,
      'planned frames': line.frames,
      'decided by': take?.offer.decidedBy ?? null,
      'decided at': take?.offer.decidedAt ?? null,
      reason: take?.offer.reason ?? null,
      'cut in': take ? take.offer.cutInAt !== null : false,
    })),
  );
}

/** Every note, with where it stands: in the clip, and in the film where it plays. */
export function noteLog(input: TurnoverInput): TurnoverFile {
  const clipById = new Map(input.clips.map((clip) => [clip.id, clip]));
  const lineById = new Map(input.lines.map((line) => [line.id, line]));
  const slotOfOffer = new Map(input.offers.map(({ id, slotId }) => [id, slotId]));
  const inFilm = new Map(placed(input).flatMap((one) => one.notes.map((note) => [note.id, noteInFilm(note, one, input)] as const)));
  const columns = ['on', 'slot', 'clip', 'source in', 'source out', 'record in', 'record out', 'state', 'by', 'written at', 'text', 'replies'] as const;
  return csvFile(
    'notes.csv',
    columns,
    input.notes.map((note) => {
      const clip = note.clipId === null ? undefined : clipById.get(note.clipId);
      const source = clip && isMeasured(clip) ? sourceOf(clip) : null;
      const range = source && note.range ? inSource(source, note.range) : null;
      const film = inFilm.get(note.id);
      return {
        on: note.slotId ? 'slot' : note.offerId ? 'offer' : 'clip',
        slot: lineById.get(note.slotId ?? slotOfOffer.get(note.offerId ?? '') ?? '')?.name ?? null,
        clip: clip?.name ?? null,
        'source in': source && range && sourceLabel(range.in, source),
        'source out': source && range && sourceLabel(range.outExclusive, source),
        'record in': film ? filmLabel(film.in, input) : null,
        'record out': film ? filmLabel(film.outExclusive, input) : null,
        state: note.settled ? 'settled' : 'open',
        by: note.by,
        'written at': note.at,
        text: note.text,
        replies: note.replies.map(({ by, text }) => `${by}: ${text}`).join('\n'),
      };
    }),
  );
}

/** Music, permits and releases as they were written down. */
export function rightsLog({ track, clearances }: TurnoverInput): TurnoverFile {
  const columns = ['kind', 'name', 'state', 'words'] as const;
  const music = track ? [{ kind: 'music', name: [track.title, track.maker].filter(Boolean).join(', '), state: track.rights, words: track.licence }] : [];
  return csvFile('rights.csv', columns, [...music, ...clearances.map(({ kind, name, state, words }) => ({ kind: kind === 'location' ? 'location permit' : 'release', name, state, words }))]);
}
