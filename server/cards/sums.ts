// Checksums that lists of files use. Lengths are those of their hexadecimal form; C4 is "c4" and the SHA-512 in Base58,
// 90 characters (SMPTE ST 2114, as ASC MHL v1.0 uses it).
import { createHash } from 'node:crypto';
import type { Readable } from 'node:stream';
import { createXXHash128, createXXHash3, createXXHash32, createXXHash64 } from 'hash-wasm';

export const KINDS = ['c4', 'md5', 'sha1', 'sha256', 'sha512', 'xxh32', 'xxh64', 'xxh3', 'xxh128'] as const;
export type Kind = (typeof KINDS)[number];
export type Sums = Partial<Record<Kind, string>>;

const HEX_LENGTH: Record<Exclude<Kind, 'c4'>, number> = { xxh32: 8, xxh64: 16, xxh3: 16, md5: 32, xxh128: 32, sha1: 40, sha256: 64, sha512: 128 };
const BASE58 = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';

/** Whether a text is a checksum of a kind, in the form these lists use. */
export function isSum(kind: Kind, text: string): boolean {
  return kind === 'c4' ? /^c4[1-9A-HJ-NP-Za-km-z]{88}$/.test(text) : text.length === HEX_LENGTH[kind] && /^[0-9a-f]+$/i.test(text);
}

/** The kinds a hexadecimal checksum of this length can be, the commonest first. */
export function kindsOfLength(length: number): Kind[] {
  return KINDS.filter((kind) => kind !== 'c4' && HEX_LENGTH[kind] === length).sort((a, b) => Number(a === 'xxh3') - Number(b === 'xxh3'));
}

interface Hasher {
  update(chunk: Uint8Array): unknown;
  digest(): string;
}

async function hasherOf(kind: Kind): Promise<Hasher> {
  if (kind === 'md5' || kind === 'sha1' || kind === 'sha256' || kind === 'sha512' || kind === 'c4') {
    const hash = createHash(kind === 'c4' ? 'sha512' : kind);
    return { update: (chunk) => hash.update(chunk), digest: () => (kind === 'c4' ? c4Of(hash.digest()) : hash.digest('hex')) };
  }
  const hash = await { xxh32: () => createXXHash32(), xxh64: () => createXXHash64(), xxh3: () => createXXHash3(), xxh128: () => createXXHash128() }[kind]();
  return { update: (chunk) => hash.update(chunk), digest: () => hash.digest('hex') };
}

function c4Of(sha512: Buffer): string {
  let value = BigInt(`0x${sha512.toString('hex')}`);
  let text = '';
  for (; value > 0n; value /= 58n) text = BASE58[Number(value % 58n)] + text;
  return `c4${text.padStart(88, '1')}`;
}

/** Several checksums of a stream in one reading. @param tell hears the length of every piece. */
export async function sumsOf(stream: Readable, kinds: readonly Kind[], tell: (bytes: number) => void = () => {}): Promise<Sums> {
  const hashers = await Promise.all(kinds.map(async (kind) => [kind, await hasherOf(kind)] as const));
  for await (const chunk of stream as AsyncIterable<Buffer>) {
    for (const [, hasher] of hashers) hasher.update(chunk);
    tell(chunk.byteLength);
  }
  return Object.fromEntries(hashers.map(([kind, hasher]) => [kind, hasher.digest()]));
}
