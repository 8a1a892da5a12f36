/**
 * Text as an edit list can hold it: 7-bit ASCII on one line. Letters lose their accents, a few signs are spelled out, and
 * whatever is left becomes "?".
 */
export function toAscii(text: string): string {
  return text
    .normalize('NFKD')
    .replaceAll(/\p{M}/gu, '')
    .replaceAll(/[‘’‚′]/g, "'")
    .replaceAll(/[“”„″]/g, '"')
    .replaceAll(/[‐-―−]/g, '-')
    .replaceAll('ß', 'ss')
    .replaceAll('ø', 'o').replaceAll('Ø', 'O')
    .replaceAll('æ', 'ae').replaceAll('Æ', 'AE')
    .replaceAll('ł', 'l').replaceAll('Ł', 'L')
    .replaceAll(/\s+/g, ' ')
    .replaceAll(/[^\x20-\x7e]/gu, '?')
    .trim();
}
