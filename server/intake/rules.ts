import { Refusal, type FieldFault } from '../platform/errors.ts';

/** What a sender says of a file. */
export interface Said {
  name: string;
  relativePath: string;
  /** The same as it was given, to be found again on a list made at the source. */
  sourcePath: string;
  camera: string;
  card: string;
  /** xxh64 made at the source, 16 hex digits. */
  sourceXxh64: string | null;
}

const LIMITS = { filename: 255, relativePath: 1024, camera: 40, card: 80 } as const;

/**
 * Reads what came with a file.
 * @throws Refusal `bad-input` naming every field that cannot be used.
 */
export function readSaid(given: Record<string, string | null | undefined>): Said {
  const faults: FieldFault[] = [];
  const text = (field: keyof typeof LIMITS): string => {
    const value = (given[field] ?? '').trim();
    if (value.length > LIMITS[field]) faults.push({ field, why: `is longer than ${LIMITS[field]} characters` });
    return value;
  };
  const relativePath = text('relativePath');
  const name = safeParts(text('filename') || relativePath).at(-1) ?? 'unnamed';
  const camera = text('camera');
  const card = text('card');
  const sum = (given['xxh64'] ?? '').trim().toLowerCase();
  if (sum && !/^[0-9a-f]{16}$/.test(sum)) faults.push({ field: 'xxh64', why: 'is not 16 hexadecimal digits' });
  if (faults.length) throw new Refusal('bad-input', faults.map(({ field, why }) => `${field} ${why}`).join('; '), { fields: faults });
  const sourcePath = (given['relativePath'] || given['filename'] || name).replaceAll('\0', '');
  return { name, relativePath: safeParts(relativePath).join('/'), sourcePath, camera, card, sourceXxh64: sum || null };
}

const NAME_BYTES = 120;
/** Names some systems take for a device. */
const DEVICES = /^(con|prn|aux|nul|com\d|lpt\d)(\.|$)/i;

/** A path as names that every usual file system takes, without any that climb or hide. */
export function safeParts(path: string): string[] {
  return path.split(/[/\\]/).map(safeName).filter((part) => part !== '');
}

function safeName(part: string): string {
  const plain = part
    .normalize('NFC')
    .replace(/[\p{Cc}\p{Cf}\p{Cs}<>:"|?*]/gu, '_')
    .replace(/^[.\s]+|[.\s]+$/g, '');
  const named = DEVICES.test(plain) ? `_${plain}` : plain;
  if (Buffer.byteLength(named) <= NAME_BYTES) return named;
  const ending = /\.[A-Za-z0-9]{1,8}$/.exec(named)?.[0] ?? '';
  let stem = named.slice(0, named.length - ending.length);
  while (Buffer.byteLength(stem) + ending.length > NAME_BYTES) stem = [...stem].slice(0, -1).join('');
  return stem + ending;
}

/** The folder of a film's originals, readable and its own. */
export function filmFolder({ id, title }: { id: string; title: string }): string {
  const plain = title.normalize('NFKD').replace(/\p{M}/gu, '').toLowerCase().replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-+|-+$/g, '');
  return `${safeName(plain.slice(0, 60)) || 'film'}-${id.slice(-8)}`;
}

/**
 * The readable, stable place of an original: film, card, path on the card.
 * @param apart set when that place is taken: a piece of the upload's id that makes the name its own.
 */
export function originalPath(film: { id: string; title: string }, said: { name: string; relativePath: string; card: string }, apart?: string): string {
  const card = safeParts(said.card).join(' ') || 'no card';
  const parts = said.relativePath ? safeParts(said.relativePath) : [said.name];
  const name = parts.pop() ?? said.name;
  const dot = name.lastIndexOf('.');
  const own = apart === undefined ? name : dot > 0 ? `${name.slice(0, dot)}~${apart}${name.slice(dot)}` : `${name}~${apart}`;
  return [filmFolder(film), card, ...parts, own].join('/');
}

/** Room that stays free, so that the database on the same disk can go on writing. */
const SPARE_BYTES = 64 * 1024 * 1024;

/**
 * @param bytes of the file, null when the sender does not know yet.
 * @throws Refusal `too-large`, `disk-full`.
 */
export function checkRoom(bytes: number | null, freeBytes: number, maxBytes: number): void {
  if (bytes !== null && bytes > maxBytes) throw new Refusal('too-large', `The file has ${bytes} bytes; this server takes up to ${maxBytes}.`);
  if ((bytes ?? 0) + SPARE_BYTES > freeBytes) {
    throw new Refusal('disk-full', `The server has room for ${Math.max(0, freeBytes - SPARE_BYTES)} more bytes${bytes === null ? '' : `; the file has ${bytes}`}.`);
  }
}
