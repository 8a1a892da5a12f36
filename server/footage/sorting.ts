// Where clips belong by what they know themselves: camera, card, shoot day, location. What a person set is never touched; what is
// proposed comes with its reason, so that a person can judge it.
import { dayAt } from '#core/clock.ts';
import { readName, readReel } from '#core/file-name.ts';
import { metresBetween, type Place } from '#core/place.ts';
import type { Clip as ClipRow } from '#prisma';
import type { Fact, Proposal } from './contract.ts';
import { placeOf } from './rows.ts';

const CAMERA_CHARACTERS = 40;
/** Satellite positions of phones are tens of metres off, and a location is as large as a harbour (common practice, no source). */
const NEAR_M = 250;

export type Sorted = Pick<ClipRow, 'name' | 'camera' | 'card' | 'shootDay' | 'byHand' | 'make' | 'model' | 'reel' | 'capturedAt' | 'capturedZone' | 'location' | 'latitude' | 'longitude'>;

export interface Reasoned {
  to: string;
  why: string;
}

/** What a clip itself says of its camera. */
export function cameraOf({ name, reel, model }: Sorted): Reasoned | null {
  const byReel = reel === null ? null : readReel(reel);
  if (byReel?.camera) return { to: byReel.camera, why: `its reel is ${reel}` };
  const byName = readName(name);
  if (byName.camera) return { to: byName.camera, why: `its name begins with ${byName.reel}` };
  return model ? { to: model.slice(0, CAMERA_CHARACTERS), why: `the camera calls itself ${model}` } : null;
}

/** What a clip itself says of its card. */
export function cardOf({ name, reel }: Sorted): Reasoned | null {
  const byReel = reel === null ? null : readReel(reel).reel;
  if (byReel) return { to: byReel, why: `its reel is ${reel}` };
  const byName = readName(name).reel;
  return byName ? { to: byName, why: `its name begins with ${byName}` } : null;
}

/** What a clip itself says of the day it was shot on. */
export function dayOf({ name, capturedAt, capturedZone }: Sorted): Reasoned | null {
  if (capturedAt) return { to: dayAt(capturedAt.getTime(), capturedZone), why: `it was captured at ${localText(capturedAt, capturedZone)}` };
  const { day } = readName(name);
  return day ? { to: day, why: 'its name says so' } : null;
}

function localText(at: Date, zone: number | null): string {
  const local = new Date(at.getTime() + (zone ?? 0) * 60_000).toISOString().slice(0, 16).replace('T', ' ');
  return zone === null ? `${local} UTC` : local;
}

/**
 * What would change if all clips were sorted by what they know. A card comes out of one camera: where a person named the
 * camera of some of its clips, that is the camera of the others.
 */
export function proposals(clips: readonly (Sorted & { id: string })[]): Proposal[] {
  const named = camerasOfCards(clips);
  const places = namedPlaces(clips);
  return clips.flatMap((clip) => {
    const free = (fact: Fact) => !clip.byHand.includes(fact);
    const changes: Proposal[] = [];
    const propose = (fact: Proposal['fact'], from: string, found: Reasoned | null) => {
      if (found && free(fact) && found.to !== from) changes.push({ clipId: clip.id, byHand: clip.byHand as Proposal['byHand'], fact, from, ...found });
    };
    const ofCard = named.get(clip.card);
    propose('camera', clip.camera, ofCard ? { to: ofCard, why: `the other clips of card ${clip.card} are camera ${ofCard}` } : clip.camera && !cameraIsModel(clip) ? null : cameraOf(clip));
    if (clip.card === '') propose('card', '', cardOf(clip));
    propose('shootDay', clip.shootDay?.toISOString().slice(0, 10) ?? '', dayOf(clip));
    if (clip.location === '') propose('location', '', locationOf(clip, places));
    return changes;
  });
}

interface NamedPlace {
  place: Place;
  location: string;
  name: string;
}

/** Places whose name a person gave. */
function namedPlaces(clips: readonly Sorted[]): NamedPlace[] {
  return clips.flatMap((clip) => {
    const place = placeOf(clip);
    return place && clip.location !== '' && clip.byHand.includes('location') ? [{ place, location: clip.location, name: clip.name }] : [];
  });
}

/** The name of the nearest place that a person named, when it is near. */
function locationOf(clip: Sorted, places: readonly NamedPlace[]): Reasoned | null {
  const place = placeOf(clip);
  if (!place) return null;
  let best: { metres: number; at: NamedPlace } | null = null;
  for (const at of places) {
    const metres = metresBetween(place, at.place);
    if (metres <= NEAR_M && (best === null || metres < best.metres)) best = { metres, at };
  }
  return best && { to: best.at.location, why: `it was captured ${Math.round(best.metres)} m from ${best.at.name}` };
}

/** A camera that is only the model's name gives way to a letter. */
const cameraIsModel = ({ camera, model }: Sorted): boolean => model !== null && camera === model.slice(0, CAMERA_CHARACTERS);

/** The camera of each card on which people agree. */
function camerasOfCards(clips: readonly Sorted[]): Map<string, string> {
  const said = new Map<string, Set<string>>();
  for (const { card, camera, byHand } of clips) if (card !== '' && camera !== '' && byHand.includes('camera')) said.set(card, (said.get(card) ?? new Set()).add(camera));
  return new Map([...said].flatMap(([card, cameras]) => (cameras.size === 1 ? [[card, [...cameras][0]!] as const] : [])));
}
