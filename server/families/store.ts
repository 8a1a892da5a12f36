import { Refusal } from '../platform/errors.ts';
import type { Tx } from '../platform/db.ts';
import type { FamiliesChange, FamiliesChanged, Family } from './contract.ts';
import { toFamily } from './rows.ts';
import { checkMembers } from './rules.ts';

type Change = FamiliesChange['changes'][number];

const whole = { members: { where: { clip: { removedAt: null } }, orderBy: { clipId: 'asc' } } } as const;

/** The families of a film, without the dissolved ones and without removed clips. */
export async function listFamilies(tx: Tx, filmId: string): Promise<Family[]> {
  return (await tx.family.findMany({ where: { filmId, removedAt: null }, include: whole, orderBy: { id: 'asc' } })).map(toFamily);
}

/**
 * Makes families hold what they are to hold, all or none.
 * @returns the families as they are now, and the change that takes this one back.
 * @throws Refusal `changed-meanwhile` when one holds other clips than the person saw, or a clip is in a family that is not
 *   part of the change; `not-found` for a family or clip that is none of this film; `removed-meanwhile` for a removed clip.
 */
export async function changeFamilies(tx: Tx, filmId: string, userId: string, changes: Change[]): Promise<FamiliesChanged> {
  checkMembers(changes);
  const clipIds = changes.flatMap(({ members }) => members.map(({ clipId }) => clipId));
  const ids = changes.flatMap(({ id }) => id ?? []);
  // Held in one order for all: the clips, then the families.
  await tx.$queryRaw`SELECT id FROM clip WHERE id = ANY(${clipIds}) AND film_id = ${filmId} ORDER BY id FOR NO KEY UPDATE`;
  await tx.$queryRaw`SELECT id FROM family WHERE id = ANY(${ids}) AND film_id = ${filmId} ORDER BY id FOR UPDATE`;
  const clips = await tx.clip.findMany({ where: { filmId, id: { in: clipIds } }, select: { removedAt: true } });
  if (clips.length !== clipIds.length) throw new Refusal('not-found', 'This film has not all of these clips.');
  if (clips.some(({ removedAt }) => removedAt)) throw new Refusal('removed-meanwhile', 'One of the clips was removed; restore it first.');
  const before = new Map((await tx.family.findMany({ where: { filmId, id: { in: ids } }, include: whole })).map((row) => [row.id, toFamily(row)]));
  if (before.size !== ids.length) throw new Refusal('not-found', 'This film has not all of these families.');
  for (const { id, was } of changes) {
    const held = id === null ? [] : before.get(id)!.members.map(({ clipId }) => clipId);
    if (held.length !== was.length || held.some((clipId) => !was.includes(clipId))) throw new Refusal('changed-meanwhile', 'Somebody joined or split this family in the meantime.');
  }
  const elsewhere = await tx.familyMember.count({ where: { clipId: { in: clipIds }, familyId: { notIn: ids } } });
  if (elsewhere) throw new Refusal('changed-meanwhile', 'One of the clips is in a family by now.');

  // Members that only a removed clip hides stay where they are.
  await tx.familyMember.deleteMany({ where: { familyId: { in: ids }, clip: { removedAt: null } } });
  const families: Family[] = [];
  const previous: Change[] = [];
  for (const { id, members } of changes) {
    const data = { removedAt: members.length ? null : new Date() };
    const made = id === null ? await tx.family.create({ data: { filmId, madeById: userId } }) : await tx.family.update({ where: { id }, data });
    await tx.familyMember.createMany({
      data: members.map(({ clipId, offset, by }) => ({ clipId, familyId: made.id, offsetNum: offset && BigInt(offset.num), offsetDen: offset && BigInt(offset.den), by, placedById: userId })),
    });
    families.push(toFamily(await tx.family.findUniqueOrThrow({ where: { id: made.id }, include: whole })));
    previous.push({ id: made.id, members: (id === null ? undefined : before.get(id))?.members ?? [], was: members.map(({ clipId }) => clipId) });
  }
  return { families, previous };
}
