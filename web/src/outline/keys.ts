import type { Step } from './outline-editor.svelte.ts';

export type LineKey = Step | 'below' | 'below-other' | 'line-up' | 'line-down' | 'length' | 'conflict' | 'remove';

/** The keys of a line, for people; `keyStep` is what reads them. */
export const LINE_KEYS: readonly (readonly [keys: string, what: string])[] = [
  ['Enter', 'a new line of the same kind below; in the middle of a name it divides the line in two'],
  ['Ctrl+Enter', 'on a part a slot inside it, on a slot a part below it'],
  ['Tab, Shift+Tab', 'one level further in, further out'],
  ['Alt+Up, Alt+Down', 'move the line, with everything in it'],
  ['Up, Down', 'go to the line above, below'],
  ['Right at the end of the name', 'go to the length; Left goes back'],
  ['Alt+PageDown', 'go to the next line that does not add up'],
  ['Delete in an empty line, or Alt+Delete', 'remove the line, with everything in it; Ctrl+Z brings it back'],
  ['Alt+Shift+C, Alt+Shift+M', 'copy the outline as text, as Markdown'],
  ['Ctrl+Z, Ctrl+Shift+Z', 'take back your last change; do it again'],
  ['Esc, then Tab', 'leave the name for the next control'],
];

/** What a key means in the name of a line; null leaves it to the field. */
export function keyStep(event: KeyboardEvent, field: { value: string; selectionStart: number | null; selectionEnd: number | null } | undefined): LineKey | null {
  // Enter and arrows belong to the input method while it composes.
  if (event.isComposing) return null;
  const { key, altKey, shiftKey } = event;
  const command = event.ctrlKey || event.metaKey;
  if (key === 'Enter' && !altKey && !shiftKey) return command ? 'below-other' : 'below';
  if (key === 'Tab' && !altKey && !command) return shiftKey ? 'out' : 'in';
  if (altKey && !command && !shiftKey) return { ArrowUp: 'up', ArrowDown: 'down', PageDown: 'conflict', Delete: 'remove' }[key] as LineKey | undefined ?? null;
  if (altKey || command || shiftKey) return null;
  if (key === 'ArrowUp') return 'line-up';
  if (key === 'ArrowDown') return 'line-down';
  if (!field) return null;
  if ((key === 'Delete' || key === 'Backspace') && field.value === '') return 'remove';
  const atEnd = field.selectionStart === field.value.length && field.selectionEnd === field.value.length;
  return key === 'ArrowRight' && atEnd ? 'length' : null;
}
