// Which camera original a clip was made from. Pure: the same clips, originals and choices give the same answer in any
// order. Nothing is guessed: what is not the only possibility both ways, or agrees in too little, is shown to a person.
import { dayFrames } from '#core/timecode.ts';
import { rateText, sameRate, type Rate } from '#core/rate.ts';

/** Where the first frame stands on the timecode clock, and whether its labels are counted with drop. */
export interface Start {
  frame: number;
  drop: boolean;
}

/** A length in frames, or in seconds known to within `within` where a list has no frames. */
export type Length = { frames: number } | { seconds: number; within: number };

/** What a clip's own file and a camera original are compared by. Null is what nobody knows. */
export interface Facts {
  id: string;
  /** Name of the file without folders; null where a list has none. */
  name: string | null;
  card: string | null;
  reel: string | null;
  rate: Rate | null;
  start: Start | null;
  length: Length | null;
  xxh64: string | null;
}

export const CRITERIA = ['name', 'card', 'reel', 'rate', 'start', 'length'] as const;
export type Criterion = (typeof CRITERIA)[number];
export type Finding = 'agrees' | 'differs' | 'unknown';

export interface Compared {
  findings: Record<Criterion, Finding>;
  /** What differs, in words, in the order of CRITERIA. */
  words: string[];
  /**
   * Frame 0 of the clip is this frame of the original, so `originalIn = clipIn + offset`. Null where neither timecode nor
   * an equal length tells.
   */
  offset: number | null;
}

/** What a person settled. `joined` and `apart` name both, `own` says that the clip's file is the camera original. */
export type Choice = { clipId: string; kind: 'joined' | 'apart'; originalId: string } | { clipId: string; kind: 'own'; originalId: null };

export interface Candidate extends Compared {
  clipId: string;
  originalId: string;
}

export type Settled =
  | ({ state: 'joined'; by: 'person' | 'facts' } & Candidate)
  /** The file that was sent is the original itself: a person said so, or its checksum is the original's. */
  | { state: 'own'; by: 'person' | 'facts'; clipId: string; originalId: string | null };

export interface Matching {
  settled: Settled[];
  /** Clips for a person to decide, with every original that could be theirs, what differs least first. */
  open: { clipId: string; candidates: Candidate[] }[];
  /** Clips that no original comes near. */
  clipsWithout: string[];
  /** Originals that no clip comes near or that went to none. */
  originalsWithout: string[];
}

/**
 * What people and programs put behind a name for a light version (common practice, no source). Only behind a stroke, a
 * point or a blank: C1080 is a clip's number.
 */
const LIGHT_ENDING = /[ ._-]+(proxy|light|low|lowres|small|preview|h264|h265|720p|1080p)$/i;

/** The part of a file's name that light version and original share: no ending, no word for "light", one spelling. */
export function stemOf(name: string): string {
  const stem = name.normalize('NFC').replace(/\.[A-Za-z0-9]{1,5}$/, '').trim();
  return (stem.replace(LIGHT_ENDING, '') || stem).toLowerCase();
}

const label = (text: string): string => text.normalize('NFC').trim().toLowerCase();
const frameCount = (n: number): string => `${Math.abs(n)} frame${Math.abs(n) === 1 ? '' : 's'}`;

/** Compares a clip's own file with an original, criterion by criterion. */
export function compareFacts(clip: Facts, original: Facts): Compared {
  const words: string[] = [];
  const same = <T>(a: T | null, b: T | null, equal: (a: T, b: T) => boolean, why: (a: T, b: T) => string): Finding => {
    if (a === null || b === null) return 'unknown';
    if (equal(a, b)) return 'agrees';
    words.push(why(a, b));
    return 'differs';
  };
  const name = same(clip.name, original.name, (a, b) => stemOf(a) === stemOf(b), (_, b) => `the original is called ${b}`);
  const card = same(clip.card, original.card, (a, b) => label(a) === label(b), (a, b) => `the clip is of card ${a}, the original of ${b}`);
  const reel = same(clip.reel, original.reel, (a, b) => label(a) === label(b), (a, b) => `the clip is of reel ${a}, the original of ${b}`);
  const rate = same(clip.rate, original.rate, sameRate, (a, b) => `the clip runs at ${rateText(a)}, the original at ${rateText(b)}`);
  const apart = startsApart(clip, original);
  const start = apart === null ? 'unknown' : apart === 0 ? 'agrees' : 'differs';
  if (apart === 'counted') words.push('one is counted with drop-frame, the other without');
  else if (apart !== null && apart !== 0) words.push(`the original starts ${frameCount(apart)} ${apart > 0 ? 'earlier' : 'later'}`);
  const length = compareLength(clip, original, words);
  const offset = typeof apart === 'number' ? (overlaps(apart, clip.length, original.length) ? apart : null) : apart === null && rate === 'agrees' && length === 'agrees' ? 0 : null;
  return { findings: { name, card, reel, rate, start, length }, words, offset };
}

/**
 * Frames that the clip's first frame lies behind the original's on one timecode clock, the shorter way round midnight;
 * `counted` when they count their labels in two ways; null when that is not known.
 */
function startsApart(clip: Facts, original: Facts): number | 'counted' | null {
  // A label is a frame number only together with its rate.
  if (!clip.start || !original.start || !clip.rate || !original.rate || !sameRate(clip.rate, original.rate)) return null;
  if (clip.start.drop !== original.start.drop) return 'counted';
  const day = dayFrames(clip.rate, clip.start.drop);
  const apart = (((clip.start.frame - original.start.frame) % day) + day) % day;
  return apart > day / 2 ? apart - day : apart;
}

/** Whether the two share a frame on their clock; where they do not, it is not one clock, and says nothing of the other. */
function overlaps(offset: number, clip: Length | null, original: Length | null): boolean {
  if (!clip || !original || !('frames' in clip) || !('frames' in original)) return true;
  return offset < original.frames && offset + clip.frames > 0;
}

function compareLength(clip: Facts, original: Facts, words: string[]): Finding {
  const [a, b] = [clip.length, original.length];
  if (!a || !b || !('frames' in a)) return 'unknown';
  if ('frames' in b) {
    // As many frames at another rate are another length.
    if (a.frames === b.frames) return !clip.rate || !original.rate || sameRate(clip.rate, original.rate) ? 'agrees' : 'unknown';
    words.push(`the original is ${frameCount(b.frames - a.frames)} ${b.frames > a.frames ? 'longer' : 'shorter'}`);
    return 'differs';
  }
  if (!clip.rate) return 'unknown';
  const frame = clip.rate.den / clip.rate.num;
  if (Math.abs(a.frames * frame - b.seconds) > b.within) {
    words.push(`the original is ${b.seconds} s long, the clip ${(a.frames * frame).toFixed(3)} s`);
    return 'differs';
  }
  // Only a length known to less than half a frame can mean no other count of frames.
  return b.within < frame / 2 ? 'agrees' : 'unknown';
}

const differing = ({ findings }: Compared): number => CRITERIA.filter((one) => findings[one] === 'differs').length;

/** Whether two files may be one shot at all: by name, or by reel and timecode where they agree in them. */
const isNear = ({ findings }: Compared): boolean => findings.name === 'agrees' || (findings.reel === 'agrees' && findings.start === 'agrees');

/**
 * Whether a pair is beyond doubt as long as it is the only one. Cameras begin names again at 0001 on every card, so a
 * name needs the card, the reel or the timecode beside it, and all of them the length.
 */
function isCertain(pair: Compared): boolean {
  const { name, card, reel, start, length } = pair.findings;
  if (differing(pair) > 0 || length !== 'agrees' || pair.offset !== 0) return false;
  const beside = [card, reel, start].includes('agrees');
  return (name === 'agrees' && beside) || (reel === 'agrees' && start === 'agrees');
}

/** Finds the camera original of every clip. Choices of people win over facts, and are never undone by them. */
export function match(clips: readonly Facts[], originals: readonly Facts[], choices: readonly Choice[]): Matching {
  const byId = <T extends { id: string }>(all: readonly T[]): T[] => [...all].sort((a, b) => (a.id < b.id ? -1 : Number(a.id > b.id)));
  const [allClips, allOriginals] = [byId(clips), byId(originals)];
  const originalById = new Map(allOriginals.map((one) => [one.id, one]));
  const parted = new Set(choices.flatMap((one) => (one.kind === 'apart' ? `${one.clipId} ${one.originalId}` : [])));
  const said = new Map(choices.flatMap((one) => (one.kind === 'apart' ? [] : [[one.clipId, one] as const])));

  const settled: Settled[] = [];
  const takenClips = new Set<string>();
  const taken = new Set<string>();
  for (const clip of allClips) {
    const choice = said.get(clip.id);
    const original = choice?.originalId ? originalById.get(choice.originalId) : undefined;
    if (choice?.kind === 'own') settled.push({ state: 'own', by: 'person', clipId: clip.id, originalId: null });
    else if (original) settled.push({ state: 'joined', by: 'person', ...pairOf(clip, original) });
    else continue;
    takenClips.add(clip.id);
    if (original) taken.add(original.id);
  }
  const bySum = groups(allOriginals.filter(({ id, xxh64 }) => xxh64 && !taken.has(id)), ({ xxh64 }) => xxh64!);
  for (const clip of allClips) {
    const [same, another] = takenClips.has(clip.id) || !clip.xxh64 ? [] : (bySum.get(clip.xxh64) ?? []);
    if (!same || another || parted.has(`${clip.id} ${same.id}`)) continue;
    settled.push({ state: 'own', by: 'facts', clipId: clip.id, originalId: same.id });
    takenClips.add(clip.id);
    taken.add(same.id);
  }

  const pairs = nearPairs(allClips.filter(({ id }) => !takenClips.has(id)), allOriginals.filter(({ id }) => !taken.has(id))).filter((pair) => !parted.has(`${pair.clipId} ${pair.originalId}`));
  const possible = pairs.filter((pair) => differing(pair) === 0);
  const ofClip = groups(possible, ({ clipId }) => clipId);
  const ofOriginal = groups(possible, ({ originalId }) => originalId);
  for (const pair of possible) {
    if (!isCertain(pair) || ofClip.get(pair.clipId)!.length > 1 || ofOriginal.get(pair.originalId)!.length > 1) continue;
    settled.push({ state: 'joined', by: 'facts', ...pair });
    takenClips.add(pair.clipId);
    taken.add(pair.originalId);
  }

  const left = groups(pairs.filter((pair) => !takenClips.has(pair.clipId) && !taken.has(pair.originalId)), ({ clipId }) => clipId);
  const near = new Set([...left.values()].flat().map(({ originalId }) => originalId));
  const open = [...left].map(([clipId, candidates]) => ({ clipId, candidates: candidates.sort((a, b) => differing(a) - differing(b)) }));
  return {
    settled: settled.sort((a, b) => (a.clipId < b.clipId ? -1 : 1)),
    open,
    clipsWithout: allClips.filter(({ id }) => !takenClips.has(id) && !left.has(id)).map(({ id }) => id),
    originalsWithout: allOriginals.filter(({ id }) => !taken.has(id) && !near.has(id)).map(({ id }) => id),
  };
}

const pairOf = (clip: Facts, original: Facts): Candidate => ({ clipId: clip.id, originalId: original.id, ...compareFacts(clip, original) });

/** Pairs worth comparing, found by name and by reel, in the order of the clips. */
function nearPairs(clips: readonly Facts[], originals: readonly Facts[]): Candidate[] {
  const byStem = groups(originals.filter(({ name }) => name !== null), ({ name }) => stemOf(name!));
  const byReel = groups(originals.filter(({ reel }) => reel !== null), ({ reel }) => label(reel!));
  return clips.flatMap((clip) => {
    const found = new Set([...(clip.name === null ? [] : (byStem.get(stemOf(clip.name)) ?? [])), ...(clip.reel === null ? [] : (byReel.get(label(clip.reel)) ?? []))]);
    return [...found].map((original) => pairOf(clip, original)).filter(isNear);
  });
}

function groups<T>(all: readonly T[], keyOf: (one: T) => string): Map<string, T[]> {
  const found = new Map<string, T[]>();
  for (const one of all) {
    const key = keyOf(one);
    const group = found.get(key);
    if (group) group.push(one);
    else found.set(key, [one]);
  }
  return found;
}
