import { wordsOf } from '../api/problem.ts';

/** Something the page has to say: shown at the foot of the page and read out. */
export interface Said {
  id: number;
  text: string;
  failed: boolean;
  undo: (() => void) | null;
}

const KEEP_MS = 12_000;
const AT_MOST = 3;

let next = 1;
let said: readonly Said[] = $state.raw([]);
/** What can be taken back: how, and how to do it again where that can be said. Words that either answers are said of it. */
export interface Doing {
  undo: () => unknown;
  again?: (() => unknown) | undefined;
}

const undos: ({ said: number } & Doing)[] = [];
const redos: Doing[] = [];

/** What is being said now, oldest first. */
export function allSaid(): readonly Said[] {
  return said;
}

/**
 * Says what happened. With `undo` it offers to take it back, also by Ctrl+Z (Cmd+Z) for as long as the page lives.
 * A failure of the undoing is said as well.
 */
export function say(text: string, { undo, again, failed = false }: Partial<Doing> & { failed?: boolean } = {}): void {
  const id = next++;
  if (undo) take({ said: id, undo, again });
  said = [...said, { id, text, failed, undo: undo ? () => undoOne(id) : null }].slice(-AT_MOST);
  // A refusal stays until it is put away: it may ask for something to be done.
  if (!failed) setTimeout(() => unlessHeld(id), KEEP_MS);
}

/** Takes note of what was done without saying it, because it shows: it can be taken back like everything else. */
export function remember(doing: Doing): void {
  take({ said: next++, ...doing });
}

function take(doing: { said: number } & Doing): void {
  undos.push(doing);
  redos.length = 0;
}

/** Says why something could not be done. */
export function sayFault(error: unknown): void {
  say(wordsOf(error), { failed: true });
}

/** Puts one away. */
export function unsay(id: number): void {
  said = said.filter((one) => one.id !== id);
}

/** Takes back the last thing that can be; false when there is none. */
export function undoLast(): boolean {
  const last = undos.at(-1);
  if (last) undoOne(last.said);
  return last !== undefined;
}

/** Does the last thing again that was taken back; false when there is none. */
export function redoLast(): boolean {
  const last = redos.pop();
  if (last) void doAgain(last);
  return last !== undefined;
}

let held = false;
const overdue = new Set<number>();

/** While pointer or focus is on what is said, nothing of it goes away by itself. */
export function hold(is: boolean): void {
  held = is;
  if (held) return;
  for (const id of overdue) unsay(id);
  overdue.clear();
}

function unlessHeld(id: number): void {
  if (held) overdue.add(id);
  else unsay(id);
}

function undoOne(id: number): void {
  const at = undos.findIndex((one) => one.said === id);
  const [undo] = at < 0 ? [] : undos.splice(at, 1);
  unsay(id);
  if (undo) void takeBack(undo);
}

async function takeBack({ undo, again }: Doing): Promise<void> {
  try {
    const words = await undo();
    if (again) redos.push({ undo, again });
    say(typeof words === 'string' ? words : 'Taken back.');
  } catch (error) {
    sayFault(error);
  }
}

async function doAgain(doing: Doing): Promise<void> {
  try {
    const words = await doing.again?.();
    undos.push({ said: next++, ...doing });
    say(typeof words === 'string' ? words : 'Done again.');
  } catch (error) {
    sayFault(error);
  }
}
