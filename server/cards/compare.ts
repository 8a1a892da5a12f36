// What the lists made at the source say of a card, against what arrived of it: file by file, by path and checksum.
//
// A file is: verified (here, and every checksum known of it is the same) | changed (here, with another checksum) |
// missing (on a list, not here) | arriving | unchecked (here, its checksum of the list's kind is being made) |
// unproved (here, but no list says what it should be) | extra (here, on no list).
import { isHistoryFile, isManifestName, isSystemFile, pathKey } from '#core/card-files.ts';
import type { CardFile, FileState, Proof } from './contract.ts';
import { leftOut, placed, rootOf } from './list-place.ts';
import type { Entry, ListedSum } from './manifest.ts';
import type { Kind, Sums } from './sums.ts';

/** A list as it is compared. */
export interface List {
  id: string;
  name: string;
  format: 'ascmhl' | 'list';
  /** Folder its paths start in, where that is known: the list itself came out of the card. */
  root: string | null;
  /** Order in its history. */
  generation: number;
  ignores: string[];
  entries: Entry[];
}

/** A file of the card as it was sent. */
export interface Arrival {
  uploadId: string;
  path: string;
  state: 'arriving' | 'arrived' | 'refused';
  bytes: number | null;
  sums: Sums;
  clipId: string | null;
  refusal: string | null;
  /** Its sender made a checksum at the source, and it was compared. */
  checkedBySender: boolean;
}

/** Bytes that are in the film under another path or card, by xxh64. */
export type Elsewhere = ReadonlyMap<string, { name: string; clipId: string | null; bytes: number }>;

/** What is expected at a path: all checksums that any list holds of it. */
export interface Expected {
  path: string;
  bytes: number | null;
  /** Each with the name of the list it stands on. */
  sums: (ListedSum & { by: string })[];
  /** Names of the lists that name the file. */
  by: string[];
}

/** Compares a card. Lists that are one history count as one; otherwise a file has to agree with every list that names it. */
export function compare(lists: readonly List[], arrivals: readonly Arrival[], elsewhere: Elsewhere): Omit<Proof, 'unread'> {
  const expected = expectedOf(lists, arrivals);
  const byKey = arrivalsByKey(arrivals);
  const files: CardFile[] = [];
  for (const [key, one] of expected) {
    const here = byKey.get(key) ?? [];
    byKey.delete(key);
    files.push(judge(one, here, elsewhere));
  }
  const ignores = lists.flatMap((list) => list.ignores);
  let leftOutCount = 0;
  for (const here of byKey.values()) {
    const best = bestOf(here);
    // A list does not name itself, nor what its maker left out.
    if (isHistoryFile(best.path) || isManifestName(best.path) || isSystemFile(best.path) || leftOut(best.path, ignores)) {
      leftOutCount += 1;
      if (best.state !== 'refused' && best.state !== 'arriving') continue;
    }
    files.push(unlisted(best));
  }
  const counts = countOf(files);
  // A refused file that no list names is shown, and is no part of what the lists say of the card.
  const bad = counts.missing + counts.changed + counts.arriving + counts.unchecked + counts.unproved + counts.extra;
  return { listed: expected.size, besides: leftOutCount, counts, allReceived: lists.length > 0 && bad === 0 && counts.verified > 0, files: files.sort(byWeight) };
}

/** Everything the lists expect, by key; the later generations of a history speak last. */
export function expectedOf(lists: readonly List[], arrivals: readonly Arrival[]): Map<string, Expected> {
  const expected = new Map<string, Expected>();
  const histories = new Map<string, List[]>();
  const paths = arrivals.map(({ path }) => path);
  for (const list of lists) {
    const root = list.root === null ? rootOf(list.entries, paths) : { without: '', before: list.root === '' ? '' : `${list.root}/` };
    const key = list.format === 'ascmhl' ? `history ${JSON.stringify(root)}` : list.id;
    histories.set(key, [...(histories.get(key) ?? []), { ...list, entries: list.entries.map((entry) => placed(entry, root)) }]);
  }
  for (const history of histories.values()) {
    for (const [key, one] of newest(history)) {
      const before = expected.get(key);
      if (before) expected.set(key, { ...before, bytes: before.bytes ?? one.bytes, sums: [...before.sums, ...one.sums], by: [...before.by, ...one.by] });
      else expected.set(key, one);
    }
  }
  return expected;
}

/** One history: a later checksum of a kind replaces an earlier one, and a file that was renamed is expected where it went. */
function newest(history: readonly List[]): Map<string, Expected> {
  const files = new Map<string, Expected>();
  for (const { name, entries } of [...history].sort((a, b) => a.generation - b.generation)) {
    for (const { path, bytes, sums, previousPath } of entries) {
      const key = pathKey(path);
      const before = files.get(key);
      if (previousPath !== undefined) files.delete(pathKey(previousPath));
      const kept = before?.sums.filter(({ kinds }) => !sums.some((sum) => sum.kinds.join() === kinds.join())) ?? [];
      // The size noted with a failed checksum is that of the copy that failed.
      files.set(key, { path, bytes: sums.length ? bytes : (before?.bytes ?? null), sums: [...kept, ...sums.map((sum) => ({ ...sum, by: name }))], by: [...(before?.by ?? []), name] });
    }
  }
  return files;
}

function arrivalsByKey(arrivals: readonly Arrival[]): Map<string, Arrival[]> {
  const byKey = new Map<string, Arrival[]>();
  for (const one of arrivals) {
    const key = pathKey(one.path);
    byKey.set(key, [...(byKey.get(key) ?? []), one]);
  }
  return byKey;
}

/** Of several sendings of one path: what arrived, else what is on its way, else the refusal; the newest of them. */
function bestOf(here: readonly Arrival[]): Arrival {
  const rank = { arrived: 2, arriving: 1, refused: 0 };
  return here.reduce((best, other) => (rank[other.state] >= rank[best.state] ? other : best));
}

type Match = 'same' | 'differs' | 'unknown';

/** How what arrived compares with one checksum of a list. */
export function matchOf({ kinds, value }: ListedSum, sums: Sums): Match {
  const known = kinds.filter((kind) => sums[kind] !== undefined);
  if (known.some((kind) => sums[kind] === value)) return 'same';
  return known.length === kinds.length ? 'differs' : 'unknown';
}

/** The kinds that still have to be made of what arrived before it can be judged. */
export function lackingKinds({ sums, bytes }: Expected, arrival: Arrival): Kind[] {
  if (arrival.state !== 'arrived' || (bytes !== null && arrival.bytes !== null && bytes !== arrival.bytes)) return [];
  const unknown = sums.filter((sum) => matchOf(sum, arrival.sums) === 'unknown');
  return [...new Set(unknown.flatMap(({ kinds }) => kinds.filter((kind) => arrival.sums[kind] === undefined)))];
}

function judge(expected: Expected, here: readonly Arrival[], elsewhere: Elsewhere): CardFile {
  const row = (state: FileState, more: Partial<CardFile> = {}): CardFile => ({ path: expected.path, bytes: expected.bytes, state, why: null, clipId: null, ...more });
  const arrived = here.filter(({ state }) => state === 'arrived');
  const verdicts = arrived.map((one) => ({ one, verdict: verdictOf(expected, one) }));
  for (const state of ['verified', 'unchecked', 'unproved', 'changed'] as const) {
    const found = verdicts.findLast(({ verdict }) => verdict.state === state);
    if (found) return row(state, { bytes: found.one.bytes, clipId: found.one.clipId, why: found.verdict.why });
  }
  const arriving = here.find(({ state }) => state === 'arriving');
  if (arriving) return row('arriving', { bytes: arriving.bytes });
  const twin = expected.sums.filter(({ kinds }) => kinds.includes('xxh64')).map(({ value }) => elsewhere.get(value)).find((one) => one && (expected.bytes === null || expected.bytes === one.bytes));
  if (twin) return row('verified', { bytes: twin.bytes, clipId: twin.clipId, why: `The same bytes are in the film already, as ${twin.name}.` });
  if (isSystemFile(expected.path)) return row('leftOut', { why: 'An operating system’s own file; such files are not sent.' });
  const refused = here.find(({ state }) => state === 'refused');
  return row('missing', { why: refused?.refusal ? `It was refused: ${refused.refusal}` : `Named by: ${expected.by.join(', ')}.` });
}

function verdictOf({ sums, bytes }: Expected, arrival: Arrival): { state: 'verified' | 'unchecked' | 'unproved' | 'changed'; why: string | null } {
  if (bytes !== null && arrival.bytes !== null && bytes !== arrival.bytes) return { state: 'changed', why: `At the source it had ${bytes} bytes, here it has ${arrival.bytes}.` };
  const matches = sums.map((sum) => ({ sum, match: matchOf(sum, arrival.sums) }));
  const other = matches.find(({ match }) => match === 'differs');
  if (other) {
    const { kinds, value, by } = other.sum;
    return { state: 'changed', why: `By ${by}: at the source its ${kinds.join(' or ')} was ${value}, here it is ${kinds.map((kind) => arrival.sums[kind]).join(' or ')}.` };
  }
  if (matches.some(({ match }) => match === 'unknown')) return { state: 'unchecked', why: null };
  return matches.length ? { state: 'verified', why: null } : { state: 'unproved', why: 'The list holds no good checksum of it: it was noted as failed.' };
}

function unlisted({ path, bytes, state, clipId, refusal, checkedBySender }: Arrival): CardFile {
  if (state === 'refused') return { path, bytes, state: 'refused', why: refusal, clipId };
  const why = state === 'arrived' ? (checkedBySender ? 'No list names it; the checksum its sender made is the same.' : 'No list names it.') : null;
  return { path, bytes, state: state === 'arriving' ? 'arriving' : 'extra', why, clipId };
}

/** Worst first, as they are read. */
const STATES: readonly FileState[] = ['missing', 'changed', 'refused', 'unproved', 'extra', 'unchecked', 'arriving', 'leftOut', 'verified'];

function byWeight(a: CardFile, b: CardFile): number {
  return STATES.indexOf(a.state) - STATES.indexOf(b.state) || (a.path < b.path ? -1 : 1);
}

function countOf(files: readonly CardFile[]): Record<FileState, number> {
  const counts = Object.fromEntries(STATES.map((state) => [state, 0])) as Record<FileState, number>;
  for (const { state } of files) counts[state] += 1;
  return counts;
}
