// Reading edit lists in the manner of SMPTE ST 258, as editing rooms write them. They come from outside: what no honest list
// holds is refused with the line it stands on. Rules of the fields: github OpenTimelineIO/otio-cmx3600-adapter 1.1.0 and
// iluvcapra/pycmx, as readers of such lists.
import { rateText } from '#core/rate.ts';
import { canDrop, dayFrames, parseTimecode, TimecodeError } from '#core/timecode.ts';
import { CUT_EVENTS, fault, type Counting, type Cut, type CutEvent } from './cut.ts';

const LABEL = String.raw`(\d\d[:;]\d\d[:;]\d\d[:;]\d{2,3})`;
const EVENT = new RegExp(String.raw`^(\d{1,6})\s+(\S.*?)\s+(V\d?|A\d?|AA|B|NONE|AA/V|A2/V|VA\d*)\s+(C|D|W\d{1,3}|K|KB|KO)\s+(\d{1,3}\s+)?${LABEL}\s+${LABEL}\s+${LABEL}\s+${LABEL}$`);
const LINE_CHARACTERS = 1000;
const BLACK = new Set(['BL', 'BLACK']);

/** An event as its line has it; `record` counted from 00:00:00:00. */
interface Draft {
  line: number;
  number: string;
  reel: string;
  picture: boolean;
  cut: boolean;
  source: { in: number; outExclusive: number; drop: boolean };
  record: { in: number; outExclusive: number };
  recordIn: string;
  names: string[];
  /** Name of the incoming side of a transition. */
  to: string | null;
  offerId: string | null;
  speed: boolean;
}

/**
 * Reads edit lists of one picture track, together one cut.
 * @throws Refusal `cut-damaged` with the line, `cut-rate` where the labels are not of the film's rate, `cut-unknown`.
 */
export function readEditLists(files: readonly { name: string; text: string }[], film: Counting): Cut {
  const drafts = files.flatMap(({ name, text }) => readLines(name, text, film));
  const titles = files.map(({ text }) => /^TITLE:\s*(.*)$/m.exec(text)?.[1]?.trim() ?? '').filter(Boolean);
  const events = drafts.filter(({ picture, record }) => picture && record.outExclusive > record.in).sort((a, b) => a.record.in - b.record.in);
  if (events.length === 0) throw fault('cut-damaged', files[0]!.name, 'the list has no event on a picture track.');
  for (const [n, one] of events.entries()) {
    const next = events[n + 1];
    if (next && next.record.in < one.record.outExclusive) throw fault('cut-damaged', `line ${next.line}`, `event ${next.number} begins before the event at ${one.recordIn} has ended.`);
  }
  const start = events[0]!.record.in;
  return {
    title: titles[0] ?? '',
    frames: events.at(-1)!.record.outExclusive - start,
    events: events.filter(({ reel }) => !BLACK.has(reel.toUpperCase())).map(({ names, to, reel, offerId, record, recordIn, source, speed }): CutEvent => ({
      names: to === null ? names : [to],
      reel,
      offerId,
      record: { in: record.in - start, outExclusive: record.outExclusive - start },
      recordIn,
      source: { counts: 'list', frame: source.in, drop: source.drop },
      speed,
    })),
  };
}

function readLines(file: string, text: string, film: Counting): Draft[] {
  const drafts: Draft[] = [];
  /** The outgoing side of a transition: a cut of no length, which the next line with its number goes on from. */
  let outgoing: Draft | null = null;
  let drop = false;
  let known = false;
  for (const [n, raw] of text.replace(/^\uFEFF/, '').split(/\r\n|\r|\n/).entries()) {
    const line = n + 1;
    const where = `line ${line}`;
    if (raw.length > LINE_CHARACTERS) throw fault('cut-damaged', where, `it is longer than ${LINE_CHARACTERS} characters.`);
    const words = raw.trim();
    if (words === '') continue;
    if (!known && !/^(TITLE:|FCM:|\*|\d{1,6}\s)/.test(words)) throw fault('cut-unknown', file, 'it begins neither as an edit list does nor as OpenTimelineIO.');
    known = true;
    if (words.startsWith('FCM:')) {
      drop = /^FCM:\s*DROP/.test(words);
      if (drop && !canDrop(film.rate)) throw fault('cut-rate', where, `it counts drop-frame, which ${rateText(film.rate)} of the film does not have.`);
    } else if (/^\d{1,6}\s/.test(words)) {
      const draft = readEvent(words, line, film, drop);
      if (drafts.length >= CUT_EVENTS) throw fault('cut-damaged', where, `a list has ${CUT_EVENTS} events at most.`);
      if (outgoing && (draft.cut || draft.number !== outgoing.number)) throw fault('cut-damaged', `line ${outgoing.line}`, `event ${outgoing.number} has no length, and no transition with its number follows.`);
      if (!draft.cut && !outgoing) throw fault('cut-damaged', where, `event ${draft.number} is a transition, and the line before it does not say from what.`);
      outgoing = draft.cut && draft.record.in === draft.record.outExclusive ? draft : null;
      drafts.push(draft);
    } else readBeside(words, where, drafts.at(-1));
  }
  if (outgoing) throw fault('cut-damaged', `line ${outgoing.line}`, `event ${outgoing.number} has no length, and the list ends with it.`);
  const uneven = drafts.find(({ source, record, speed }) => !speed && source.outExclusive - source.in !== record.outExclusive - record.in);
  if (uneven) throw fault('cut-damaged', `line ${uneven.line}`, `event ${uneven.number} takes ${uneven.source.outExclusive - uneven.source.in} frames of its source and plays ${uneven.record.outExclusive - uneven.record.in}, and no M2 line says at which speed.`);
  return drafts;
}

function readEvent(words: string, line: number, film: Counting, fcmDrop: boolean): Draft {
  const where = `line ${line}`;
  const match = EVENT.exec(words);
  if (!match) throw fault('cut-damaged', where, 'it begins as an event and is none: number, reel, channels, transition, and four times.');
  const [, number = '', reel = '', channels = '', transition = '', , ...labels] = match;
  // Some rooms write ":" throughout and leave it to FCM; where any ";" is written, marks mean what they say.
  const byFcm = fcmDrop && !labels.some((label) => label.includes(';'));
  const [sourceIn, sourceOut, recordIn, recordOut] = labels.map((label) => readLabel(label, where, film, byFcm));
  const onwards = (from: { frame: number; drop: boolean }, to: { frame: number; drop: boolean }): number => (to.frame < from.frame ? to.frame + dayFrames(film.rate, from.drop) : to.frame);
  return {
    ...{ line, number, reel, picture: /V|^B$/.test(channels), cut: transition === 'C' },
    source: { in: sourceIn!.frame, outExclusive: onwards(sourceIn!, sourceOut!), drop: sourceIn!.drop },
    record: { in: recordIn!.frame, outExclusive: onwards(recordIn!, recordOut!) },
    ...{ recordIn: labels[2]!, names: [], to: null, offerId: null, speed: false },
  };
}

function readLabel(label: string, where: string, film: Counting, byFcm: boolean): { frame: number; drop: boolean } {
  try {
    return parseTimecode(label.replaceAll(';', ':').replace(/:(\d+)$/, label.includes(';') ? ';$1' : ':$1'), film.rate, { drop: byFcm || undefined });
  } catch (error) {
    if (!(error instanceof TimecodeError)) throw error;
    const rate = (error.code === 'range' && error.field === 'frames') || error.code === 'drop-mark' || error.code === 'shape';
    throw rate ? fault('cut-rate', where, `${label} is no timecode at ${rateText(film.rate)}, the rate of the film. Ask for a list at that rate.`) : fault('cut-damaged', where, error.message);
  }
}

/** What stands below an event and says more of it. Anything that is not known is passed over, as comments are. */
function readBeside(words: string, where: string, event: Draft | undefined): void {
  const [, key, value = ''] = /^\*?\s*(FROM CLIP NAME|TO CLIP NAME|SOURCE FILE|FROM FILE|FROM CLIP|OFFER):\s*(.+)$/.exec(words) ?? [];
  if (words.startsWith('M2')) {
    if (!event) throw fault('cut-damaged', where, 'a speed stands before any event.');
    event.speed = true;
  } else if (event && key === 'TO CLIP NAME') event.to = value;
  else if (event && key === 'OFFER') event.offerId = value;
  else if (event && key) event.names.push(value);
}
