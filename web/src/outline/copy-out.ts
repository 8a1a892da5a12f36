import { writeOutline, type TextLine } from '#core/outline-text.ts';
import type { Rate } from '#core/rate.ts';
import type { ItemLine } from './words.ts';

/** The lines of an outline as they are written out. */
export const writtenLines = (lines: readonly ItemLine[]): TextLine[] =>
  lines.map(({ depth, row: { kind, name, role, wish, mustShow, comesIn, goesOut } }) => ({ depth, kind, name, role, wish, mustShow, comesIn, goesOut }));

/** Puts the outline on the clipboard. Throws as `copyText`. */
export const copyOutline = (lines: readonly ItemLine[], form: 'text' | 'markdown', rate: Rate): Promise<void> => copyText(writeOutline(writtenLines(lines), form, rate));

/** Puts a text on the clipboard. Throws Error in words where the browser does not allow it. */
export async function copyText(text: string): Promise<void> {
  // The clipboard's own interface exists on secure origins only; a crew's server is often a plain address.
  if (window.isSecureContext) return navigator.clipboard.writeText(text);
  let copied = false;
  const give = (event: ClipboardEvent): void => {
    event.clipboardData?.setData('text/plain', text);
    event.preventDefault();
    copied = true;
  };
  document.addEventListener('copy', give);
  document.execCommand('copy');
  document.removeEventListener('copy', give);
  if (!copied) throw new Error('This browser does not let the page copy. Select the text and copy it by hand; an outline can be printed to a file.');
}
