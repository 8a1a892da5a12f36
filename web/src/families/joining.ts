import type { FamiliesChange, Family, Fraction, Placed } from '#contract/families';
import { fraction } from '#core/exact.ts';

export type Change = FamiliesChange['changes'][number];

/** How two clips lie on one another: seconds from the first frame of the one to the first frame of the other, and by what. */
export interface Place {
  offset: Fraction;
  by: 'timecode' | 'sound' | 'hand';
}

const ids = (family: Family | null): string[] => family?.members.map(({ clipId }) => clipId) ?? [];
const sum = (a: Fraction, b: Fraction): Fraction => {
  const { num, den } = fraction(BigInt(a.num), BigInt(a.den)).plus(fraction(BigInt(b.num), BigInt(b.den)));
  return { num: Number(num), den: Number(den) };
};
const negative = ({ num, den }: Fraction): Fraction => ({ num: num === 0 ? 0 : -num, den });
const ZERO: Fraction = { num: 0, den: 1 };

/**
 * The change that brings a clip, and the family it is in, to another clip and its family.
 * @param place where the other lies; null for takes that did not roll at once.
 */
export function joined(a: { clipId: string; family: Family | null }, b: { clipId: string; family: Family | null }, place: Place | null): Change[] {
  const own: Placed[] = a.family ? a.family.members.map((member) => ({ ...member })) : [{ clipId: a.clipId, offset: null, by: null }];
  const coming: Placed[] = a.family && a.family.id === b.family?.id ? [] : (b.family?.members.map((member) => ({ ...member })) ?? [{ clipId: b.clipId, offset: null, by: null }]);
  const here = own.find(({ clipId }) => clipId === a.clipId)!;
  // Without a place of its own among others that have one, nothing says where it lies to them: then its place is the new zero.
  if (place && !here.offset) {
    for (const member of own) member.offset = member.by = null;
    Object.assign(here, { offset: ZERO, by: place.by });
  }
  const there = [...own, ...coming].find(({ clipId }) => clipId === b.clipId)!;
  if (place) {
    const target = sum(here.offset!, place.offset);
    const shift = there.offset && sum(target, negative(there.offset));
    for (const member of coming) member.offset = shift && member.offset && sum(member.offset, shift);
    for (const member of coming) member.by = member.offset && member.by;
    Object.assign(there, { offset: target, by: place.by });
  } else {
    for (const member of coming) member.offset = member.by = null;
  }
  const change: Change = { id: a.family?.id ?? null, members: [...own, ...coming], was: ids(a.family) };
  return b.family && b.family.id !== a.family?.id ? [{ id: b.family.id, members: [], was: ids(b.family) }, change] : [change];
}

/** The change that takes clips out of a family; when fewer than two would stay, it is dissolved. */
export function split(family: Family, clipIds: readonly string[]): Change[] {
  const staying = family.members.filter(({ clipId }) => !clipIds.includes(clipId));
  return [{ id: family.id, members: staying.length > 1 ? staying : [], was: ids(family) }];
}
