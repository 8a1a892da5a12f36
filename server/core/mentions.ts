/*
 * Naming people in a text: "@" and the name, where a word could begin. Names may hold spaces, so what is a mention can
 * only be said knowing who there is.
 */

export type Named = { readonly id: string; readonly name: string };

export type Piece = { readonly text: string; readonly id: string | null };

const LETTER = /[\p{L}\p{N}_]/u;

/** A text in pieces, mentions apart: `id` is who is named, null for the words between. The longest name counts. */
export function piecesOf(text: string, people: readonly Named[]): Piece[] {
  const longestFirst = people.filter(({ name }) => name !== '').toSorted((a, b) => b.name.length - a.name.length);
  const pieces: Piece[] = [];
  let plain = 0;
  for (let at = text.indexOf('@'); at >= 0; at = text.indexOf('@', at + 1)) {
    if (!mayBegin(text, at)) continue;
    const named = longestFirst.find(({ name }) => startsWith(text, name, at + 1) && !LETTER.test(text[at + 1 + name.length] ?? ''));
    if (!named) continue;
    if (at > plain) pieces.push({ text: text.slice(plain, at), id: null });
    plain = at + 1 + named.name.length;
    pieces.push({ text: text.slice(at, plain), id: named.id });
    at = plain - 1;
  }
  if (plain < text.length) pieces.push({ text: text.slice(plain), id: null });
  return pieces;
}

/** Who a text names, each once, in the order they are named. */
export function mentionedIn(text: string, people: readonly Named[]): string[] {
  return [...new Set(piecesOf(text, people).flatMap(({ id }) => (id === null ? [] : [id])))];
}

/** A mention that is being typed: where its "@" stands, and who it could become. */
export type Typing<T extends Named> = { readonly at: number; readonly matches: T[] };

/** The mention being typed before the caret, or null when there is none or nobody's name goes on like that. */
export function typingAt<T extends Named>(text: string, caret: number, people: readonly T[]): Typing<T> | null {
  const at = text.lastIndexOf('@', caret - 1);
  if (caret < 1 || at < 0 || !mayBegin(text, at)) return null;
  const begun = text.slice(at + 1, caret);
  const matches = people.filter(({ name }) => begun.length < name.length && startsWith(name, begun, 0));
  return matches.length ? { at, matches } : null;
}

/** The text with the mention that was being typed written out, and where the caret goes. */
export function complete(text: string, caret: number, at: number, name: string): { text: string; caret: number } {
  const written = `${text.slice(0, at)}@${name} `;
  return { text: written + text.slice(caret).replace(/^ /, ''), caret: written.length };
}

/** An "@" inside a word is an address, not a mention. */
function mayBegin(text: string, at: number): boolean {
  return at === 0 || !LETTER.test(text[at - 1]!);
}

function startsWith(text: string, start: string, at: number): boolean {
  return text.slice(at, at + start.length).toLowerCase() === start.toLowerCase();
}
