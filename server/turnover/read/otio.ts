// Reading OpenTimelineIO JSON of a cut. It comes from outside: only known schemas in known versions are read, no deeper and
// no more than a cut can have, and nothing is taken over but names, times and our own ids. Schemas:
// AcademySoftwareFoundation/OpenTimelineIO v0.18.1; Clip.1 kept one media reference by itself.
import { fraction, type Exact } from '#core/exact.ts';
import { nearestRate, rate as rateOf, rateText, sameRate, type Rate } from '#core/rate.ts';
import { nearestDivide } from '#core/fraction.ts';
import { formatTimecode, parseTimecode } from '#core/timecode.ts';
import { CUT_EVENTS, fault, type Counting, type Cut, type CutEvent } from './cut.ts';

const DEPTH = 16;
/** Tools write times that are not whole frames; a millionth of a frame is close enough for any of them. */
const FINE = 1_000_000;
const VERSIONS: Record<string, readonly number[]> = { Timeline: [1], Stack: [1], Track: [1], Clip: [1, 2], Gap: [1], Transition: [1], RationalTime: [1], TimeRange: [1] };

type Node = Readonly<Record<string, unknown>>;
interface Time {
  value: number;
  rate: Rate;
}
interface Span {
  start: Time;
  length: Time;
}
interface Walk {
  film: Counting;
  /** Frame of the film's clock at which the timeline begins. */
  start: number;
  events: CutEvent[];
  items: number;
}

const isNode = (value: unknown): value is Node => typeof value === 'object' && value !== null && !Array.isArray(value);
const own = (node: Node, field: string): unknown => (Object.hasOwn(node, field) ? node[field] : undefined);
const textOf = (value: unknown): string => (typeof value === 'string' ? value.slice(0, 1000) : '');

/** @throws Refusal `cut-damaged` with the place, `cut-schema`, `cut-rate`, `cut-unknown`. */
export function readOtio(name: string, text: string, film: Counting): Cut {
  let root: unknown;
  try {
    root = JSON.parse(text.replace(/^\uFEFF/, ''));
  } catch {
    throw fault('cut-damaged', name, 'the JSON is cut short or was changed.');
  }
  if (!isNode(root) || typeof own(root, 'OTIO_SCHEMA') !== 'string') throw fault('cut-unknown', name, 'the JSON is no OpenTimelineIO: nothing in it says a schema.');
  if (schemaOf(root, name) !== 'Timeline') throw fault('cut-unknown', name, `it holds a ${textOf(own(root, 'OTIO_SCHEMA'))}; a cut is a Timeline.`);
  const begins = own(root, 'global_start_time');
  const start = begins === null || begins === undefined ? null : timeOf(begins, 'global_start_time');
  if (start && !sameRate(start.rate, film.rate)) throw fault('cut-rate', 'global_start_time', `the timeline runs at ${rateText(start.rate)}, the film at ${rateText(film.rate)}. Ask for a cut at the film's rate.`);
  const walk: Walk = { film, start: start ? Math.round(start.value) : parseTimecode('01:00:00:00', film.rate, { drop: film.drop }).frame, events: [], items: 0 };
  const stack = own(root, 'tracks');
  if (!isNode(stack) || schemaOf(stack, 'tracks') !== 'Stack') throw fault('cut-damaged', 'tracks', 'a Timeline has its tracks in a Stack.');
  const length = readStack(stack, walk, 'tracks', fraction(0n, 1n), null, 0);
  const events = walk.events.sort((a, b) => a.record.in - b.record.in);
  if (events.length === 0) throw fault('cut-damaged', name, 'no clip plays on a picture track.');
  return { title: textOf(own(root, 'name')), frames: inFrames(length, film.rate), events };
}

/** The name of a schema in a version that is known here. */
function schemaOf(node: Node, where: string): string {
  const said = textOf(own(node, 'OTIO_SCHEMA'));
  const [, schema = '', version = ''] = /^([A-Za-z]{1,60})\.(\d{1,6})$/.exec(said) ?? [];
  const versions = Object.hasOwn(VERSIONS, schema) ? VERSIONS[schema] : undefined;
  if (!versions) throw fault('cut-schema', where, `${said || 'something without a schema'} is not known here.`);
  if (!versions.includes(Number(version))) throw fault('cut-schema', where, `${said} is another version than is known here: ${schema}.${versions.join(` and ${schema}.`)}.`);
  return schema;
}

function timeOf(value: unknown, where: string): Time {
  if (!isNode(value) || schemaOf(value, where) !== 'RationalTime') throw fault('cut-damaged', where, 'this is no RationalTime.');
  const [count, fps] = [own(value, 'value'), own(value, 'rate')];
  if (typeof count !== 'number' || !Number.isFinite(count) || Math.abs(count) > 1e12) throw fault('cut-damaged', `${where}.value`, 'it is no number of frames.');
  if (typeof fps !== 'number' || !(fps >= 1 && fps <= 1_000_000)) throw fault('cut-damaged', `${where}.rate`, 'it is no rate.');
  const rate = nearestRate(fps);
  // A standard rate only where it is meant: 23.976 is written in full, and 24.01 is something else.
  if (rate && Math.abs((fps * rate.den) / rate.num - 1) < 1e-4) return { value: count, rate };
  return { value: count, rate: Number.isInteger(fps) ? rateOf(fps) : rateOf(Math.round(fps * 1000), 1000) };
}

function spanOf(value: unknown, where: string): Span | null {
  if (value === null || value === undefined) return null;
  if (!isNode(value) || schemaOf(value, where) !== 'TimeRange') throw fault('cut-damaged', where, 'this is no TimeRange.');
  const span = { start: timeOf(own(value, 'start_time'), `${where}.start_time`), length: timeOf(own(value, 'duration'), `${where}.duration`) };
  if (span.length.value < 0) throw fault('cut-damaged', `${where}.duration`, 'it is less than nothing.');
  return span;
}

const secondsOf = ({ value, rate }: Time): Exact => fraction(BigInt(Math.round(value * FINE)) * BigInt(rate.den), BigInt(FINE) * BigInt(rate.num));
const inFrames = ({ num, den }: Exact, rate: Rate): number => Number(nearestDivide(num * BigInt(rate.num), den * BigInt(rate.den)));
const isLess = (a: Exact, b: Exact): boolean => a.num * b.den < b.num * a.den;
const least = (a: Exact, b: Exact): Exact => (isLess(a, b) ? a : b);
const most = (a: Exact, b: Exact): Exact => (isLess(a, b) ? b : a);

/** The stretch of an inner time that shows, in that time; `at` is where inner time 0 lies in the timeline. */
type Window = { from: Exact; to: Exact } | null;

function childrenOf(node: Node, where: string): unknown[] {
  const children = own(node, 'children');
  if (!Array.isArray(children)) throw fault('cut-damaged', where, 'it has no list of children.');
  return children;
}

function readStack(stack: Node, walk: Walk, where: string, at: Exact, window: Window, depth: number): Exact {
  let longest = fraction(0n, 1n);
  for (const [n, child] of childrenOf(stack, where).entries()) {
    const place = `${where}.children[${n}]`;
    if (!isNode(child)) throw fault('cut-damaged', place, 'it is nothing that could play.');
    const schema = schemaOf(child, place);
    if (schema === 'Track' && own(child, 'kind') !== 'Video') continue;
    longest = most(longest, readItem(child, schema, walk, place, at, window, depth + 1));
  }
  return longest;
}

/** Reads one item that begins at `at`. @returns how long it is, in seconds. */
function readItem(node: Node, schema: string, walk: Walk, where: string, at: Exact, window: Window, depth: number): Exact {
  if (depth > DEPTH) throw fault('cut-damaged', where, `it is nested deeper than ${DEPTH}.`);
  if (++walk.items > CUT_EVENTS) throw fault('cut-damaged', where, `a cut has ${CUT_EVENTS} items at most.`);
  const trim = spanOf(own(node, 'source_range'), `${where}.source_range`);
  if (schema === 'Stack' || schema === 'Track') {
    // What is inside begins earlier by what the trim leaves out of it.
    const zero = trim ? at.minus(secondsOf(trim.start)) : at;
    const inner = trim ? { from: at, to: at.plus(secondsOf(trim.length)) } : null;
    const shown: Window = inner && window ? { from: most(inner.from, window.from), to: least(inner.to, window.to) } : (inner ?? window);
    const whole = schema === 'Stack' ? readStack(node, walk, where, zero, shown, depth) : readTrack(node, walk, where, zero, shown, depth);
    return trim ? secondsOf(trim.length) : whole;
  }
  if (schema === 'Gap') {
    if (!trim) throw fault('cut-damaged', where, 'a gap without a source_range has no length.');
    return secondsOf(trim.length);
  }
  if (schema !== 'Clip') throw fault('cut-damaged', where, `a ${schema} does not play by itself.`);
  const media = mediaOf(node, where);
  const span = trim ?? media.available;
  if (!span) throw fault('cut-damaged', where, 'a clip without a source_range, whose media says no available_range, has no length.');
  const length = secondsOf(span.length);
  const [from, to] = [window ? most(at, window.from) : at, window ? least(at.plus(length), window.to) : at.plus(length)];
  const { film } = walk;
  const record = { in: inFrames(from, film.rate), outExclusive: inFrames(to, film.rate) };
  if (own(node, 'enabled') !== false && record.in < record.outExclusive) {
    const late = inFrames(from.minus(at), span.start.rate);
    walk.events.push({
      names: [...new Set([textOf(own(node, 'name')), ...media.names].filter(Boolean))],
      reel: media.reel,
      offerId: oursOf(node, 'offer'),
      record,
      recordIn: formatTimecode(walk.start + record.in, film.rate, { drop: film.drop }),
      source: { counts: 'own', frame: Math.round(span.start.value) + late, rate: span.start.rate, mediaStart: media.available && sameRate(media.available.start.rate, span.start.rate) ? Math.round(media.available.start.value) : null },
      speed: warps(node),
    });
  }
  return length;
}

function readTrack(track: Node, walk: Walk, where: string, zero: Exact, window: Window, depth: number): Exact {
  let at = zero;
  for (const [n, child] of childrenOf(track, where).entries()) {
    const place = `${where}.children[${n}]`;
    if (!isNode(child)) throw fault('cut-damaged', place, 'it is nothing that could play.');
    const schema = schemaOf(child, place);
    // A transition lies over its neighbours and adds no time.
    if (schema === 'Transition') continue;
    at = at.plus(readItem(child, schema, walk, place, at, window, depth + 1));
  }
  return at.minus(zero);
}

/** Something of ours in the metadata, where a file still has it. */
function oursOf(node: Node, key: string): string | null {
  const metadata = own(node, 'metadata');
  const ours = isNode(metadata) ? own(metadata, 'rushlight') : undefined;
  const value = isNode(ours) ? own(ours, key) : undefined;
  return typeof value === 'string' && value.length <= 64 ? value : null;
}

/** The media a clip plays. Its own version is of no matter: of an unknown kind only name and range are read. */
function mediaOf(clip: Node, where: string): { names: string[]; reel: string | null; available: Span | null } {
  const references = own(clip, 'media_references');
  const key = own(clip, 'active_media_reference_key');
  const media = isNode(references) && typeof key === 'string' ? own(references, key) : own(clip, 'media_reference');
  if (!isNode(media)) return { names: [], reel: null, available: null };
  const url = textOf(own(media, 'target_url'));
  return { names: [textOf(own(media, 'name')), lastName(url)].filter(Boolean), reel: oursOf(media, 'reel'), available: spanOf(own(media, 'available_range'), `${where}.available_range`) };
}

/** The file's name of an address, as it was before it was escaped. */
function lastName(url: string): string {
  const last = url.split(/[?#]/)[0]!.split(/[/\\]/).at(-1) ?? '';
  try {
    return decodeURIComponent(last);
  } catch {
    return last;
  }
}

const warps = (clip: Node): boolean => {
  const effects = own(clip, 'effects');
  return Array.isArray(effects) && effects.some((effect) => isNode(effect) && /^(LinearTimeWarp|FreezeFrame|TimeEffect)\./.test(textOf(own(effect, 'OTIO_SCHEMA'))));
};
