// The film as it stands now, as pieces that are made once each: a piece is named by what it is made of, so what has not
// changed is never made again, wherever it lies in the film.
import { createHash } from 'node:crypto';
import { budgetOf } from '#core/budget.ts';
import { outlineOrder } from '#core/outline.ts';
import type { FrameRange } from '#core/range.ts';
import type { Rate } from '#core/rate.ts';
import { entriesOf, laidOut } from '#core/string-out.ts';
import { listItems } from '../outline/index.ts';
import type { Db, Tx } from '../platform/db.ts';
import type { Levels, StringOutStretch } from './contract.ts';

/** To be raised with whatever changes what a piece looks or sounds like. */
const SETTINGS = 2;

/** What a piece is made of. */
export type Content =
  | { kind: 'take'; clipId: string; proxyVersion: string; range: FrameRange; clipRate: Rate; clipFrames: number; sound: boolean }
  | { kind: 'card'; title: string; words: string };

export interface Piece {
  name: string;
  /** The rate of the film. */
  rate: Rate;
  /** Its length in frames of the film. */
  frames: number;
  content: Content;
}

export interface Plan {
  version: string;
  rate: Rate;
  frames: number;
  stretches: StringOutStretch[];
  pieces: Piece[];
  sound: { name: string; levels: Levels; /** Its play copy, in the area of music. */ track: { path: string } | null; musicFailed: boolean };
  /** The newest event that is in it. */
  seq: number;
}

/** Faults of a clip are counted when its proxy is made. */
const hasFlashes = (faults: unknown): boolean => typeof faults === 'object' && faults !== null && 'flashing' in faults;

const hash = (of: unknown): string => createHash('sha256').update(JSON.stringify(of)).digest('hex').slice(0, 32);

/**
 * The plan of a film, as of one moment.
 * @param failed names of pieces that cannot be made: a card plays in their place
 */
export async function planOf(db: Db, filmId: string, failed: ReadonlySet<string>): Promise<Plan> {
  return db.$transaction((tx) => read(tx, filmId, failed), { isolationLevel: 'RepeatableRead' });
}

async function read(tx: Tx, filmId: string, failed: ReadonlySet<string>): Promise<Plan> {
  const film = await tx.film.findUniqueOrThrow({ where: { id: filmId }, include: { stringOut: true } });
  const rate: Rate = { num: film.rateNum, den: film.rateDen };
  const items = new Map((await listItems(tx, filmId)).map((item) => [item.id, item]));
  const lines = outlineOrder([...items.values()]);
  const offers = await tx.offer.findMany({ where: { filmId, removedAt: null, clip: { removedAt: null, rateNum: { not: null } } }, include: { clip: true } });
  const clips = new Map(offers.map(({ clip }) => [clip.id, clip]));
  const rateOf = (clipId: string): Rate => ({ num: clips.get(clipId)!.rateNum!, den: clips.get(clipId)!.rateDen! });

  const pieces = new Map<string, Piece>();
  const keep = (content: Content, frames: number): string => {
    const name = hash([SETTINGS, rate, frames, content]);
    pieces.set(name, { name, rate, frames, content });
    return name;
  };
  const stretches = laidOut(entriesOf(lines, offers, budgetOf(lines, film.targetFrames, rate)), rateOf, rate).map(({ lineId, take, film: lies }): StringOutStretch => {
    const [item, clip] = [items.get(lineId)!, take && clips.get(take.clipId)!];
    const frames = lies.outExclusive - lies.in;
    const card = (words: string): string => keep({ kind: 'card', title: item.name, words }, frames);
    const stretch = (state: StringOutStretch['state'], piece: string): StringOutStretch => ({ lineId, take, film: lies, flashes: hasFlashes(clip?.faults), state, piece });
    if (!take || !clip) return stretch('card', card(item.mustShow));
    if (clip.state !== 'ready' || clip.proxyVersion === null) return stretch('waits', card('The proxy of its take is being made.'));
    const content: Content = { kind: 'take', clipId: clip.id, proxyVersion: clip.proxyVersion, range: take.range, clipRate: rateOf(clip.id), clipFrames: clip.frames ?? take.range.outExclusive, sound: clip.audioChannels > 0 };
    if (failed.has(hash([SETTINGS, rate, frames, content]))) return stretch('failed', card('Its take could not be put in here.'));
    return stretch('take', keep(content, frames));
  });

  const locked = await tx.track.findFirst({ where: { filmId, locked: true, removedAt: null, version: { not: null } } });
  const levels = { productionDb: film.stringOut?.productionDb ?? 0, musicDb: film.stringOut?.musicDb ?? -9 };
  const order = stretches.map(({ piece, film: { in: first } }) => [piece, first]);
  const soundOf = (track: string | null): string => hash([SETTINGS, rate, order, levels, track]);
  const path = locked && `${locked.id}/${locked.version}/play.m4a`;
  const musicFailed = path !== null && failed.has(soundOf(path));
  const track = path === null || musicFailed ? null : { path };
  const sound = { name: soundOf(track?.path ?? null), levels, track, musicFailed };
  // Which line and offer a piece stands for is part of what a page shows.
  return { version: hash([sound.name, musicFailed, stretches]), rate, frames: stretches.at(-1)?.film.outExclusive ?? 0, stretches, pieces: [...pieces.values()], sound, seq: film.lastSeq };
}
