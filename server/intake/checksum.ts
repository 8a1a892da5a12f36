// tus 1.0.0, "Checksum" (https://github.com/tus/tus-resumable-upload-protocol, protocol.md): a chunk that does not match
// is dropped and the offset stays. sha1 must be offered.
import { createHash, type Hash } from 'node:crypto';
import { Refusal } from '../platform/errors.ts';

export const ALGORITHMS = ['sha1', 'sha256', 'md5'] as const;

export interface Checksum {
  algorithm: (typeof ALGORITHMS)[number];
  expected: Buffer;
}

/**
 * Reads an Upload-Checksum header: algorithm, blank, Base64.
 * @throws Refusal `unknown-algorithm`; `bad-input` when the sum is not of that algorithm's length.
 */
export function readChecksum(header: string | undefined): Checksum | null {
  if (header === undefined) return null;
  const [name, sum = ''] = header.split(' ');
  const algorithm = ALGORITHMS.find((known) => known === name);
  if (!algorithm) throw new Refusal('unknown-algorithm', `Upload-Checksum may use ${ALGORITHMS.join(', ')}.`);
  const expected = Buffer.from(sum, 'base64');
  if (expected.byteLength !== createHash(algorithm).digest().byteLength || expected.toString('base64') !== sum) {
    throw new Refusal('bad-input', `Upload-Checksum holds no ${algorithm} in Base64.`, { fields: [{ field: 'Upload-Checksum', why: `is not a ${algorithm} in Base64` }] });
  }
  return { algorithm, expected };
}

/** A sum to be fed and compared. */
export function comparing({ algorithm, expected }: Checksum): { update(chunk: Uint8Array): void; matches(): boolean } {
  const hash: Hash = createHash(algorithm);
  return { update: (chunk) => void hash.update(chunk), matches: () => hash.digest().equals(expected) };
}
