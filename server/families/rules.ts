import { Refusal } from '../platform/errors.ts';
import type { FamiliesChange } from './contract.ts';

/**
 * Refuses a change that no families can be in: a clip twice, a family named twice or of one clip, a place without saying
 * by what. Throws `bad-input` with the field at fault.
 */
export function checkMembers(changes: FamiliesChange['changes']): void {
  const refuse = (field: string, why: string): never => {
    throw new Refusal('bad-input', `The change ${why}.`, { fields: [{ field, why }] });
  };
  const clips = new Set<string>();
  const ids = new Set<string>();
  for (const [n, { id, members }] of changes.entries()) {
    if (id !== null && ids.size === ids.add(id).size) refuse(`changes.${n}.id`, 'names a family twice');
    if (id === null && members.length === 0) refuse(`changes.${n}.members`, 'makes a family of nothing');
    if (members.length === 1) refuse(`changes.${n}.members`, 'leaves a family of one clip; take that one out as well');
    for (const [m, { clipId, offset, by }] of members.entries()) {
      const field = `changes.${n}.members.${m}`;
      if (clips.size === clips.add(clipId).size) refuse(`${field}.clipId`, 'names a clip twice');
      if ((offset === null) !== (by === null)) refuse(`${field}.by`, 'gives a place without saying by what, or the reverse');
    }
  }
}
