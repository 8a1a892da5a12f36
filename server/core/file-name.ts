// What the name of a clip says of where it belongs. Cameras do not agree on names; these are the shapes most of them have.

export interface NameFacts {
  /** The camera's letter. */
  camera: string | null;
  /** Letter and number of the card: cameras count their cards as reels. */
  reel: string | null;
  /** YYYY-MM-DD on the camera's clock. */
  day: string | null;
  /** Milliseconds of the day on the camera's clock. */
  timeMs: number | null;
}

/** `A002C006_141024_R2EC`, `A001_C003_0530AB`, `A002R2EC`: camera letter, reel, clip, perhaps the date (common practice, no source). */
const REEL = /^([A-Z])(\d{3,4})(?=_?C\d{3,4}(?![0-9])|R[0-9A-Z]{3}(?![0-9A-Z]))/;
const REEL_DATE = /^[A-Z]\d{3,4}_?C\d{3,4}_(\d\d)(\d\d)(\d\d)(?!\d)/;
/** `VID_20260530_182044`, `20260530-182044`: day and time as phones and small cameras write them (common practice, no source). */
const STAMP = /(?<!\d)(20\d\d)(\d\d)(\d\d)[_-]?(\d\d)(\d\d)(\d\d)(?!\d{1,2}(?!\d))/;

/** Reads a reel as the file's own metadata has it; there a letter and three digits are one by themselves. */
export function readReel(reel: string): Pick<NameFacts, 'camera' | 'reel'> {
  const plain = /^([A-Z])\d{3}$/.exec(reel.trim().toUpperCase());
  return plain ? { camera: plain[1]!, reel: plain[0] } : readName(reel);
}

/** Reads the name of a clip. */
export function readName(name: string): NameFacts {
  const stem = name.replace(/\.[A-Za-z0-9]{1,5}$/, '');
  const upper = stem.toUpperCase();
  const reel = REEL.exec(upper);
  const dated = REEL_DATE.exec(upper);
  const stamp = STAMP.exec(stem);
  const stampDay = stamp && calendarDay(stamp[1]!, stamp[2]!, stamp[3]!);
  const stampTime = stamp && stampDay ? timeOfDay(Number(stamp[4]), Number(stamp[5]), Number(stamp[6])) : null;
  return {
    camera: reel?.[1] ?? null,
    reel: reel ? `${reel[1]}${reel[2]}` : null,
    day: (dated && calendarDay(`20${dated[1]}`, dated[2]!, dated[3]!)) ?? (stampTime === null ? null : stampDay),
    timeMs: stampTime,
  };
}

function calendarDay(year: string, month: string, day: string): string | null {
  const text = `${year}-${month}-${day}`;
  const date = new Date(`${text}T00:00:00Z`);
  return Number.isNaN(date.getTime()) || date.toISOString().slice(0, 10) !== text ? null : text;
}

function timeOfDay(hours: number, minutes: number, seconds: number): number | null {
  return hours < 24 && minutes < 60 && seconds < 60 ? ((hours * 60 + minutes) * 60 + seconds) * 1000 : null;
}
