// Everything that leaves for the cutting room, read as of one moment. The files are made of this and of nothing else, so
// the same film gives the same bytes.
import { budgetOf } from '#core/budget.ts';
import { outlineOrder, sequenceOf } from '#core/outline.ts';
import type { FrameRange } from '#core/range.ts';
import { sameRate, type Rate } from '#core/rate.ts';
import { entriesOf, laidOut } from '#core/string-out.ts';
import type { Clip } from '../footage/contract.ts';
import { toClip } from '../footage/index.ts';
import { originalOf } from '../originals/index.ts';
import { listItems } from '../outline/index.ts';
import type { Db, Tx } from '../platform/db.ts';

/** A clip as the cutting room needs it: the camera original where one is known, else the clip's own file. */
export interface Source {
  clip: Clip;
  /** Whether these are facts of the camera original: of another file, or because the clip is it. */
  original: 'matched' | 'own' | 'unknown';
  name: string;
  /** Where it lies on its card, as its list names it; the name for a file of ours. */
  path: string;
  card: string;
  reel: string | null;
  rate: Rate;
  /** Of its first frame on its timecode clock, in frames of `rate`. */
  startFrame: number;
  drop: boolean;
  /** Its length in frames; null where no list says. */
  frames: number | null;
  /** `frame of the original = frame of the clip + offset`; null where a person joined them and nothing tells. */
  offset: number | null;
}

export interface InputNote {
  text: string;
  author: string;
  /** Frames of the clip; null for the whole. */
  range: FrameRange | null;
  settled: boolean;
  writtenAt: string;
  on: 'clip' | 'offer' | 'slot';
  /** Id of the offer or slot, or of the clip. */
  about: string;
  clipId: string | null;
}

export interface Shot {
  lineId: string;
  /** Its number in the outline: "2.1". */
  label: string;
  name: string;
  mustShow: string;
  sequence: string;
  /** Frames of the film. */
  film: FrameRange;
  take: { offerId: string; approved: boolean; range: FrameRange; source: Source } | null;
  isSlot: boolean;
}

export interface InputSelect {
  id: string;
  label: string;
  circled: boolean;
  range: FrameRange;
  source: Source;
}

export interface TurnoverInput {
  seq: number;
  /** When the newest event happened: files are dated by it, not by the clock. */
  at: string;
  film: { id: string; title: string; rate: Rate; drop: boolean; frames: number };
  shots: Shot[];
  sources: Source[];
  selects: InputSelect[];
  notes: InputNote[];
  track: { title: string; rights: string; licence: string; marks: { atMs: number; toMs: number | null; kind: string; name: string }[] } | null;
}

/** Reads it. */
export function readInput(db: Db, filmId: string): Promise<TurnoverInput> {
  return db.$transaction((tx) => read(tx, filmId), { isolationLevel: 'RepeatableRead' });
}

async function read(tx: Tx, filmId: string): Promise<TurnoverInput> {
  const row = await tx.film.findUniqueOrThrow({ where: { id: filmId } });
  const newest = await tx.event.findFirst({ where: { filmId }, orderBy: { seq: 'desc' }, select: { at: true } });
  const rate: Rate = { num: row.rateNum, den: row.rateDen };
  const lines = outlineOrder(await listItems(tx, filmId));
  const clips = (await tx.clip.findMany({ where: { filmId, removedAt: null, rateNum: { not: null }, frames: { not: null } }, orderBy: [{ shootDay: 'asc' }, { camera: 'asc' }, { capturedAt: 'asc' }, { name: 'asc' }, { id: 'asc' }] })).map(toClip);
  const originals = await originalOf(tx, filmId);
  const sources = new Map(clips.map((clip) => [clip.id, sourceOf(clip, originals.get(clip.id))]));
  const offers = (await tx.offer.findMany({ where: { filmId, removedAt: null } })).filter(({ clipId }) => sources.has(clipId));
  const byId = new Map(lines.map((line) => [line.row.id, line]));
  const laid = laidOut(entriesOf(lines, offers, budgetOf(lines, row.targetFrames, rate)), (clipId) => sources.get(clipId)!.clip.rate!, rate);
  const notes = await tx.note.findMany({ where: { filmId, removedAt: null, parentId: null }, orderBy: [{ writtenAt: 'asc' }, { id: 'asc' }] });
  const authors = await tx.user.findMany({ where: { id: { in: [...new Set(notes.map(({ authorId }) => authorId))] } }, select: { id: true, name: true } });
  const members = new Map(authors.map(({ id, name }) => [id, name]));
  const selects = await tx.select.findMany({ where: { filmId, removedAt: null }, orderBy: [{ in: 'asc' }, { outExclusive: 'asc' }, { id: 'asc' }] });
  const track = await tx.track.findFirst({ where: { filmId, locked: true, removedAt: null }, include: { marks: { where: { removedAt: null }, orderBy: [{ atMs: 'asc' }, { id: 'asc' }] } } });
  const place = new Map(clips.map(({ id }, n) => [id, n]));
  return {
    seq: row.lastSeq,
    at: (newest?.at ?? row.createdAt).toISOString(),
    film: { id: filmId, title: row.title, rate, drop: row.dropFrame, frames: laid.at(-1)?.film.outExclusive ?? 0 },
    shots: laid.map(({ lineId, take, film }) => {
      const line = byId.get(lineId)!;
      return {
        ...{ lineId, label: line.label, name: line.row.name, mustShow: line.row.mustShow, sequence: sequenceOf(line).row.name, film, isSlot: line.row.kind === 'slot' },
        take: take && { offerId: take.offerId, approved: take.approved, range: take.range, source: sources.get(take.clipId)! },
      };
    }),
    sources: [...sources.values()],
    selects: selects
      .flatMap(({ id, label, circled, clipId, in: first, outExclusive }) => (sources.has(clipId) ? [{ id, label, circled, range: { in: first, outExclusive }, source: sources.get(clipId)! }] : []))
      .toSorted((a, b) => place.get(a.source.clip.id)! - place.get(b.source.clip.id)!),
    notes: notes.map((note) => ({
      ...{ text: note.text, author: members.get(note.authorId) ?? 'somebody', settled: note.settledAt !== null, writtenAt: note.writtenAt.toISOString(), clipId: note.clipId },
      range: note.in === null || note.outExclusive === null ? null : { in: note.in, outExclusive: note.outExclusive },
      ...(note.offerId ? { on: 'offer' as const, about: note.offerId } : note.slotId ? { on: 'slot' as const, about: note.slotId } : { on: 'clip' as const, about: note.clipId ?? '' }),
    })),
    track: track && { title: track.title, rights: track.rights, licence: track.licence, marks: track.marks.map(({ atMs, untilMs, kind, name }) => ({ atMs, toMs: untilMs, kind, name })) },
  };
}

function sourceOf(clip: Clip, original: Awaited<ReturnType<typeof originalOf>> extends Map<string, infer One> ? One | undefined : never): Source {
  const own = { clip, name: clip.name, path: clip.name, card: clip.card, reel: clip.reel, rate: clip.rate!, startFrame: clip.startFrame, drop: clip.dropFrame, frames: clip.frames, offset: 0 };
  if (original === undefined || original === 'own') return { ...own, original: original ?? 'unknown' };
  const rate = original.rate ?? clip.rate!;
  // Frames of two rates are no frames of one another: then nothing tells which frame of the original is meant.
  const offset = sameRate(rate, clip.rate!) ? original.offset : null;
  const length = original.length && 'frames' in original.length ? original.length.frames : null;
  const start = original.start ?? (offset === null ? null : { frame: clip.startFrame - offset, drop: clip.dropFrame });
  return { clip, original: 'matched', name: original.name, path: original.path, card: original.card, reel: original.reel ?? clip.reel, rate, startFrame: start?.frame ?? clip.startFrame, drop: start?.drop ?? clip.dropFrame, frames: length, offset };
}

/** Where a stretch of a clip lies on the timecode clock of its source, in frames of the source's rate. */
export function sourceRange({ startFrame, offset }: Source, { in: first, outExclusive }: FrameRange): FrameRange {
  const from = startFrame + (offset ?? 0);
  return { in: from + first, outExclusive: from + outExclusive };
}
