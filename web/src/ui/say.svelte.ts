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
/** Changes whose answer is awaited; each says at its end how it is taken back. */
const underWay = new Set<Promise<unknown>>();

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

/**
 * Runs a change; a refusal is said. Whoever takes the last thing back while the answer is still on its way means this
 * change, and not the one before.
 * @param done says what was done, and how it is taken back
 * @returns whether it was done.
 */
export async function tried<T>(change: () => Promise<T>, done?: (answer: T) => void): Promise<boolean> {
  try {
    await awaited(async () => {
      const answer = await change();
      done?.(answer);
    });
    return true;
  } catch (error) {
    sayFault(error);
    return false;
  }
}

async function awaited(run: () => Promise<void>): Promise<void> {
  const running = run();
  underWay.add(running);
  try {
    await running;
  } finally {
    underWay.delete(running);
  }
}

/** Runs `step` at once, or when every change under way has ended. @returns whether there was something to do, or may be. */
function inTurn(step: () => boolean): boolean {
  if (underWay.size === 0) return step();
  void Promise.allSettled(underWay).then(() => inTurn(step));
  return true;
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
  return inTurn(() => {
    const last = undos.at(-1);
    if (last) undoOne(last.said);
    return last !== undefined;
  });
}

/** Does the last thing again that was taken back; false when there is none. */
export function redoLast(): boolean {
  return inTurn(() => {
    const last = redos.pop();
    if (last) void awaited(() => doAgain(last));
    return last !== undefined;
  });
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
  if (undo) void awaited(() => takeBack(undo));
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
